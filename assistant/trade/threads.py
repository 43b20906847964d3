"""Screw threads as they are named: M8 × 1.25, M6, 3/8-16 UNC, #10-32 UNF.

Metric: ISO 261 (diameters and pitches), coarse pitches where only the diameter is named
(ISO 965-1: a designation without a pitch means the coarse one). Inch: ASME B1.1; a numbered
size n has the diameter 0.060 in + n · 0.013 in.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from typing import Final, Literal, Self

from assistant.trade.quantity import Quantity, number_text, parse_number, unit_named

Series = Literal["M", "UNC", "UNF", "UNEF", "UN"]

# ISO 261: pitches in mm by diameter, the coarse one first. The coarse ones of M3 to M16 and the
# fine ones that ISO 898-1 has stress areas for agree with its tables; the rest is from memory.
_PITCHES_MM: Final = {
    Fraction(diameter): tuple(Fraction(pitch) for pitch in pitches.split())
    for diameter, pitches in (
        ("1.6", "0.35 0.2"), ("2", "0.4 0.25"), ("2.5", "0.45 0.35"), ("3", "0.5 0.35"),
        ("3.5", "0.6 0.35"), ("4", "0.7 0.5"), ("5", "0.8 0.5"), ("6", "1 0.75"),
        ("7", "1 0.75"), ("8", "1.25 1 0.75"), ("10", "1.5 1.25 1 0.75"),
        ("12", "1.75 1.5 1.25 1"), ("14", "2 1.5 1.25 1"), ("16", "2 1.5 1"),
        ("18", "2.5 2 1.5 1"), ("20", "2.5 2 1.5 1"), ("22", "2.5 2 1.5 1"), ("24", "3 2 1.5 1"),
    )
}  # fmt: skip
# ASME B1.1: threads per inch of the coarse and fine series by size. #6 to 1/2 agree with its
# stress-area tables; the other sizes are from memory.
_INCH_SERIES: Final = {
    "#2": (56, 64), "#3": (48, 56), "#4": (40, 48), "#5": (40, 44), "#6": (32, 40),
    "#8": (32, 36), "#10": (24, 32), "#12": (24, 28), "1/4": (20, 28), "5/16": (18, 24),
    "3/8": (16, 24), "7/16": (14, 20), "1/2": (13, 20), "9/16": (12, 18), "5/8": (11, 18),
    "3/4": (10, 16), "7/8": (9, 14), "1": (8, 12),
}  # fmt: skip

_METRIC = re.compile(r"M(?P<d>\d+(?:\.\d+)?)(?:\s*[x×]\s*(?P<p>\d+(?:\.\d+)?))?")
_INCH = re.compile(
    r"(?P<size>#\d{1,2}|\d+/[1-9]\d*|\d+(?: \d+/[1-9]\d*)?)(?:\s*in)?"
    r"-(?P<tpi>[1-9]\d*)(?:\s+(?P<series>UNC|UNF|UNEF|UN))?"
)
_EXAMPLES = "write it like M8 × 1.25, 3/8-16 UNC or #10-32 UNF"


@dataclass(frozen=True, slots=True)
class Thread:
    """A screw thread.

    Attributes:
        series: M for metric; UNC, UNF, UNEF or UN (no series named) for inch.
        size: as the standard names it: "M8", "3/8", "#10".
        diameter: nominal (major) diameter, in mm or in.
        pitch: distance from crest to crest, in the same unit, exact.
    """

    series: Series
    size: str
    diameter: Quantity
    pitch: Quantity

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read a thread's designation.

        Raises:
            ValueError: it is none, or the standard has no such thread; says what would be right.
        """
        text = text.strip()
        if len(text) <= 40:
            metric, inch = _METRIC.fullmatch(text), _INCH.fullmatch(text)
            if metric is not None:
                return cls(*_metric(metric["d"], metric["p"], text))
            if inch is not None:
                return cls(*_inch(inch["size"], int(inch["tpi"]), inch["series"], text))
        msg = f'"{text[:40]}" is not a thread; {_EXAMPLES}'
        raise ValueError(msg)

    @property
    def threads_per_inch(self) -> Fraction:
        """How many crests stand on an inch."""
        return 1 / self.pitch.to(unit_named("in")).value

    def __str__(self) -> str:
        if self.series == "M":
            return f"{self.size} × {number_text(self.pitch.value)}"
        series = "" if self.series == "UN" else f" {self.series}"
        return f"{self.size}-{self.threads_per_inch}{series}"


def _metric(d: str, p: str | None, text: str) -> tuple[Series, str, Quantity, Quantity]:
    diameter = Fraction(d)
    pitches = _PITCHES_MM.get(diameter)
    if p is None and pitches is None:
        msg = f'"{text}" names no pitch, and ISO 261 has no coarse one for it; write M9 × 1.25'
        raise ValueError(msg)
    pitch = Fraction(p) if p is not None else (pitches or ())[0]
    if pitches is not None and pitch not in pitches:
        known = ", ".join(number_text(one) for one in pitches)
        msg = f'"{text}": ISO 261 gives M{number_text(diameter)} the pitches {known}, not {p}'
        raise ValueError(msg)
    if not 0 < pitch <= diameter / 4:  # the coarsest of ISO 261 is M1's quarter
        msg = f'"{text}" has a pitch too coarse for its diameter; {_EXAMPLES}'
        raise ValueError(msg)
    mm = unit_named("mm")
    return "M", f"M{number_text(diameter)}", Quantity(diameter, mm), Quantity(pitch, mm)


def _inch(
    size: str, tpi: int, series: str | None, text: str
) -> tuple[Series, str, Quantity, Quantity]:
    known = _INCH_SERIES.get(size)
    if size.startswith("#"):
        if known is None:
            msg = f'"{text}": ASME B1.1 has no size {size} here; known: {", ".join(_INCH_SERIES)}'
            raise ValueError(msg)
        diameter = Fraction(60 + 13 * int(size[1:]), 1000)
    else:
        diameter = parse_number(size)
    if known is not None and series in {"UNC", "UNF"}:
        right = known[0] if series == "UNC" else known[1]
        if tpi != right:
            msg = f'"{text}": ASME B1.1 gives {size} {series} {right} threads per inch, not {tpi}'
            raise ValueError(msg)
    pitch = Fraction(1, tpi)
    if pitch > diameter / 3:  # the coarsest of ASME B1.1 is under a quarter
        msg = f'"{text}" has a pitch too coarse for its diameter; {_EXAMPLES}'
        raise ValueError(msg)
    inch = unit_named("in")
    chosen: Series = series or _series_of(known, tpi)  # type: ignore[assignment] # the pattern admits only these
    return chosen, size, Quantity(diameter, inch), Quantity(pitch, inch)


def _series_of(known: tuple[int, int] | None, tpi: int) -> Series:
    """The series of a designation that doesn't name it: 3/8-16 can only be the coarse one."""
    if known is None or tpi not in known:
        return "UN"
    return "UNC" if tpi == known[0] else "UNF"
