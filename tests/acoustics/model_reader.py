"""Reads a `final.mdl` back and runs it in numpy, as Kaldi's description of the format says.

Independent of the writer: the network's own plan, which lies in the file as text, is followed.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_NODE: Final = re.compile(r"component-node name=(\S+) component=(\S+) input=(.+)")
_PART: Final = re.compile(r"Offset\(([^,()]+), (-?\d+)\)|([^,() ]+)")


@dataclass(frozen=True, slots=True)
class Node:
    """A step of the plan.

    Attributes:
        name: of its output.
        how: "" for one input, "Append" or "Sum".
        inputs: name and offset in frames of each.
        kind: "Affine", "RectifiedLinear", "NoOp" or "LogSoftmax".
        weight: of an affine step, else empty.
        bias: likewise.
    """

    name: str
    how: str
    inputs: tuple[tuple[str, int], ...]
    kind: str
    weight: Floats
    bias: Floats


def read_nodes(path: Path) -> list[Node]:
    """The plan in the order of the file, with its weights."""
    data = path.read_bytes()
    start = data.index(b"<Nnet3> ") + len(b"<Nnet3> ")
    plan = data[start : data.index(b"\n\n", start)].decode()
    found = []
    for name, component, source in _NODE.findall(plan):
        at = data.index(f"<ComponentName> {component} ".encode())
        at = data.index(b" ", at + len("<ComponentName> ")) + 1
        kind = data[at + 1 : data.index(b"Component> ", at)].decode()
        nothing = np.zeros(0)
        weight = bias = nothing
        if kind == "Affine":
            weight = _matrix(data, data.index(b"<LinearParams> ", at) + len(b"<LinearParams> "))
            bias = _vector(data, data.index(b"<BiasParams> ", at) + len(b"<BiasParams> "))
        how = source.split("(")[0] if source.startswith(("Append(", "Sum(")) else ""
        inside = source[len(how) + 1 : -1] if how else source
        parts = [(a or b, int(offset or 0)) for a, offset, b in _PART.findall(inside)]
        found.append(Node(name, how, tuple(parts), kind, weight, bias))
    return found


def _matrix(data: bytes, at: int) -> Floats:
    kind, most = {b"CM2 ": ("<u2", 65_535), b"CM3 ": ("u1", 255)}[data[at : at + 4]]
    low, spread, rows, columns = struct.unpack_from("<ffii", data, at + 4)
    whole = np.frombuffer(data, kind, rows * columns, at + 20).reshape(rows, columns)
    return np.asarray(low + spread / most * whole, float)


def _vector(data: bytes, at: int) -> Floats:
    assert data[at : at + 3] == b"FV "
    (count,) = struct.unpack_from("<i", data, at + 4)
    return np.frombuffer(data, "<f4", count, at + 8).astype(float)


def run(nodes: list[Node], cepstra: Floats, context: int, stride: int = 3) -> Floats:
    """What the network gives, (answers, classes).

    Args:
        nodes: see `read_nodes`.
        cepstra: (frames, 40); the first and the last are repeated over the context.
        context: frames that an answer needs on either side.
        stride: frames between answers.
    """
    count = -(-len(cepstra) // stride)
    wanted = (count - 1) * stride + 1
    after = context + max(0, wanted - len(cepstra))
    values = {"input": np.pad(cepstra, ((context, after), (0, 0)), mode="edge")}
    for node in nodes:
        inputs = [np.roll(values[name], -offset, axis=0) for name, offset in node.inputs]
        x = sum(inputs[1:], inputs[0]) if node.how == "Sum" else np.concatenate(inputs, axis=1)
        if node.kind == "Affine":
            x = x @ node.weight.T + node.bias
        elif node.kind == "RectifiedLinear":
            x = np.maximum(x, 0.0)
        elif node.kind == "LogSoftmax":
            most = x.max(axis=1, keepdims=True)
            x = x - most - np.log(np.exp(x - most).sum(axis=1, keepdims=True))
        else:
            assert node.kind == "NoOp"
        values[node.name] = x
    last = values[nodes[-1].name]
    return np.asarray(last[context : context + wanted : stride])


def context_of(path: Path) -> int:
    """Frames that an answer needs on the left, as the file says."""
    data = path.read_bytes()
    at = data.rindex(b"<LeftContext> ") + len(b"<LeftContext> ")
    return int(struct.unpack_from("<i", data, at + 1)[0])
