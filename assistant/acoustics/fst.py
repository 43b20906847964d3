"""Finite-state transducers in OpenFst's binary form, as far as a Vosk model needs them.

The vector form (read by `fstconvert`) and the const form (read by Vosk), with tropical weights.
Header fields as in OpenFst's documentation of the format: magic number, type names, version,
flags, properties, start, states, arcs; strings have their length in front.
"""

from __future__ import annotations

import struct
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

_MAGIC: Final = 2125659606
_SYMBOLS_MAGIC: Final = 2125658996
_HAS_INPUT, _HAS_OUTPUT = 1, 2
_EXPANDED: Final = 0x1
_MUTABLE: Final = 0x2
_INFINITY: Final = float("inf")

Arc = tuple[int, int, float, int]
"""Input label, output label, cost, next state."""


@dataclass(slots=True)
class Fst:
    """States are numbered from 0; a state is final when it has a final cost."""

    start: int = 0
    arcs: list[list[Arc]] = field(default_factory=list)
    finals: dict[int, float] = field(default_factory=dict)

    def state(self) -> int:
        """A new state."""
        self.arcs.append([])
        return len(self.arcs) - 1

    def add(self, source: int, arc: Arc) -> None:
        """A new arc."""
        self.arcs[source].append(arc)


def _text(value: str) -> bytes:
    given = value.encode()
    return struct.pack("<i", len(given)) + given


def _header(fst: Fst, kind: str, version: int, flags: int, properties: int) -> bytes:
    arcs = sum(len(each) for each in fst.arcs)
    made = struct.pack("<i", _MAGIC) + _text(kind) + _text("standard")
    made += struct.pack("<ii", version, flags)
    return made + struct.pack("<Qqqq", properties, fst.start, len(fst.arcs), arcs)


def _arc(arc: Arc) -> bytes:
    return struct.pack("<iifi", *arc)


def write_vector(path: Path, fst: Fst) -> None:
    """Write the vector form."""
    with path.open("wb") as file:
        file.write(_header(fst, "vector", 2, 0, _EXPANDED | _MUTABLE))
        for number, arcs in enumerate(fst.arcs):
            file.write(struct.pack("<f", fst.finals.get(number, _INFINITY)))
            file.write(struct.pack("<q", len(arcs)))
            file.writelines(_arc(arc) for arc in arcs)


def _symbols(symbols: Mapping[int, str]) -> bytes:
    made = struct.pack("<i", _SYMBOLS_MAGIC) + _text("words")
    made += struct.pack("<qq", max(symbols) + 1, len(symbols))
    return made + b"".join(
        _text(name) + struct.pack("<q", number) for number, name in symbols.items()
    )


def write_const(path: Path, fst: Fst, symbols: Mapping[int, str], sorted_inputs: bool) -> None:
    """Write the const form with its words inside; arcs are sorted by input when that is said."""
    properties = _EXPANDED | (0x0000000010000000 if sorted_inputs else 0)
    with path.open("wb") as file:
        file.write(_header(fst, "const", 2, _HAS_INPUT | _HAS_OUTPUT, properties))
        file.write(_symbols(symbols) * 2)
        at = 0
        for number, arcs in enumerate(fst.arcs):
            silent_in = sum(arc[0] == 0 for arc in arcs)
            silent_out = sum(arc[1] == 0 for arc in arcs)
            final = fst.finals.get(number, _INFINITY)
            file.write(struct.pack("<fIIII", final, at, len(arcs), silent_in, silent_out))
            at += len(arcs)
        for arcs in fst.arcs:
            ordered: Iterable[Arc] = sorted(arcs) if sorted_inputs else arcs
            file.writelines(_arc(arc) for arc in ordered)


def read_pairs(text: str) -> dict[int, int]:
    """Lines of two numbers, as `fstconvert` saves which label became which."""
    pairs: Sequence[list[str]] = [line.split() for line in text.splitlines() if line.strip()]
    return {int(one): int(other) for one, other in pairs}
