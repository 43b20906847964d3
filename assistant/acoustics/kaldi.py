"""Writes the acoustic model file that Vosk loads: transitions, network, all in Kaldi's binary form.

Everything is a token and a space, or a number with its size in front. The network is written as
plain affine layers; their matrices as whole numbers with a common least value and range, which
Kaldi's reader takes and expands (its CompressedMatrix): of 8 bits, the first and last of 16.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Sequence
from pathlib import Path

import numpy as np

from assistant.acoustics.layers import Floats, Layer


def _token(text: str) -> bytes:
    return text.encode() + b" "


def _int(value: int) -> bytes:
    return b"\x04" + struct.pack("<i", value)


def _float(value: float) -> bytes:
    return b"\x04" + struct.pack("<f", value)


def _ints(values: Sequence[int]) -> bytes:
    return b"\x04" + struct.pack(f"<i{len(values)}i", len(values), *values)


def _vector(values: Iterable[float]) -> bytes:
    given = np.asarray(list(values), "<f4")
    return b"FV " + _int(len(given)) + given.tobytes()


def matrix(values: Floats, small: bool) -> bytes:
    """A matrix of whole numbers between its least and greatest value: of 8 bits, or of 16."""
    name, most, kind = (b"CM3 ", 255, "u1") if small else (b"CM2 ", 65_535, "<u2")
    low, spread = float(values.min()), float(values.max() - values.min()) or 1e-5
    whole = np.clip(np.rint((values - low) * (most / spread)), 0, most).astype(kind)
    return name + struct.pack("<ffii", low, spread, *values.shape) + whole.tobytes()


def transitions(answers: Sequence[int]) -> bytes:
    """One state with a loop for each phone; phone p has transitions 2p - 1 (loop) and 2p (on).

    Args:
        answers: the network's output that each phone, from number 1 on, listens to.
    """
    count = len(answers)
    made = _token("<TransitionModel>") + _token("<Topology>")
    made += _ints(range(1, count + 1)) + _ints([-1] + [0] * count)
    made += _int(1) + _int(2) + _int(0)
    made += _int(2) + _int(0) + _float(0.5) + _int(1) + _float(0.5)
    made += _int(-1) + _int(0) + _token("</Topology>") + _token("<Triples>") + _int(count)
    for phone, answer in enumerate(answers, start=1):
        made += _int(phone) + _int(0) + _int(answer)
    half = float(np.log(0.5))
    made += _token("</Triples>") + _token("<LogProbs>") + _vector([0.0] + [half] * (2 * count))
    return made + _token("</LogProbs>") + _token("</TransitionModel>")


def _affine(layer: Layer, small: bool) -> bytes:
    weight = layer.weight
    made = _token("<AffineComponent>") + _token("<LearningRate>") + _float(0.001)
    made += _token("<LinearParams>") + matrix(weight, small)
    made += _token("<BiasParams>") + _vector(layer.bias.tolist())
    return made + _token("</AffineComponent>")


def _elementwise(kind: str, size: int) -> bytes:
    nothing, none = _vector([]), b"\x08" + struct.pack("<d", 0.0)
    made = _token(f"<{kind}>") + _token("<Dim>") + _int(size)
    for name, value in (
        ("ValueAvg", nothing),
        ("DerivAvg", nothing),
        ("Count", none),
        ("OderivRms", nothing),
        ("OderivCount", none),
        ("NumDimsSelfRepaired", none),
        ("NumDimsProcessed", none),
    ):
        made += _token(f"<{name}>") + value
    return made + _token(f"</{kind}>")


def _passing(size: int) -> bytes:
    made = _token("<NoOpComponent>") + _token("<Dim>") + _int(size)
    return made + _token("<BackpropScale>") + _float(1.0) + _token("</NoOpComponent>")


def _spliced(source: str, offsets: Sequence[int]) -> str:
    if tuple(offsets) == (0,):
        return source
    parts = (source if not at else f"Offset({source}, {at})" for at in offsets)
    return f"Append({', '.join(parts)})"


class _Network:
    """The lines of a network's plan and its components, as they come."""

    def __init__(self, inputs: int) -> None:
        self.lines = [f"input-node name=input dim={inputs}"]
        self.components: list[bytes] = []
        self.last = "input"

    def add(self, name: str, source: str, component: bytes) -> None:
        self.lines.append(f"component-node name={name} component={name} input={source}")
        self.components.append(_token("<ComponentName>") + _token(name) + component)
        self.last = name

    def written(self) -> bytes:
        self.lines.append(f"output-node name=output input={self.last} objective=linear")
        made = _token("<Nnet3>") + b"\n" + "\n".join(self.lines).encode() + b"\n\n"
        made += _token("<NumComponents>") + _int(len(self.components))
        return made + b"".join(self.components) + _token("</Nnet3>")


def write_model(
    path: Path,
    answers: Sequence[int],
    layers: Sequence[Layer],
    inputs: int,
    context: tuple[int, int],
) -> None:
    """Write `final.mdl`.

    Args:
        path: of the file.
        answers: see `transitions`.
        layers: of the network; log softmax is added after the last.
        inputs: values a frame.
        context: frames that an answer needs before and after its own.
    """
    net = _Network(inputs)
    block = "input"
    for number, layer in enumerate(layers):
        last = number == len(layers) - 1
        size = len(layer.bias)
        small = number > 0 and not last
        net.add(f"l{number}.affine", _spliced(net.last, layer.offsets), _affine(layer, small))
        if layer.relu:
            kind = "RectifiedLinearComponent"
            net.add(f"l{number}.relu", net.last, _elementwise(kind, size))
        if layer.residual:
            net.add(f"l{number}.sum", f"Sum({net.last}, {block})", _passing(size))
        if layer.relu:
            block = net.last
        if last:
            net.add("answers", net.last, _elementwise("LogSoftmaxComponent", size))
    with path.open("wb") as file:
        file.write(b"\0B" + transitions(answers) + net.written())
        file.write(_token("<LeftContext>") + _int(context[0]) + _token("<RightContext>"))
        file.write(_int(context[1]) + _token("<Priors>") + _vector([]))
