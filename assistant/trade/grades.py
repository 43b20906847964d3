"""Property classes and grades: what a bolt's steel bears (ISO 898-1, SAE J429, ISO 3506-1)."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from assistant.trade.quantity import Quantity
from assistant.trade.threads import Thread

# "08.8": the leading zero marks a head that can't carry the full load. It carries 80 % of what
# the thread does, in all sizes and classes (ISO 7380-2:2022 scope, ISO 898-1 for the marking).
_REDUCED: Final = Fraction(4, 5)
_CLASS: Final = re.compile(
    r"(?:property )?(?:class )?(?P<zero>0?)(?P<name>\d{1,2}\.\d)", re.IGNORECASE
)
_SAE: Final = re.compile(r"(?:SAE )?(?:J429 )?grade (?P<name>\d)", re.IGNORECASE)
_STAINLESS: Final = re.compile(r"(?P<name>A[1-5]-\d{2})", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Grade:
    """A class or grade and the diameters it holds for.

    Attributes:
        standard: ISO 898-1, SAE J429 or ISO 3506-1.
        name: "8.8", "5", "A2-70".
        over, up_to: nominal diameters it holds for, None where unlimited.
        proof: proof stress; None where the standard tabulates none (stainless).
        yields: least yield or 0.2 % stress.
        tensile: least tensile strength.
        marking: what stands on the head.
        verified: False for a row from memory.
    """

    standard: str
    name: str
    over: Quantity | None
    up_to: Quantity | None
    proof: Quantity | None
    yields: Quantity
    tensile: Quantity
    marking: str
    source: str
    verified: bool

    @property
    def bears(self) -> Quantity:
        """The stress it bears without staying longer: proof stress, else the 0.2 % stress."""
        return self.proof or self.yields

    @property
    def metric(self) -> bool:
        """Whether the standard is about metric threads."""
        return self.standard.startswith("ISO")

    @property
    def label(self) -> str:
        """As a technician names it: "class 8.8", "SAE grade 5", "A2-70"."""
        if self.standard == "SAE J429":
            return f"SAE grade {self.name}"
        return f"class {self.name}" if self.standard == "ISO 898-1" else self.name

    def holds_for(self, thread: Thread) -> bool:
        """Whether the row is about this thread's diameter and system."""
        if self.metric != (thread.series == "M"):
            return False
        d = thread.diameter
        return (self.over is None or d.value > self.over.to(d.unit).value) and (
            self.up_to is None or d.value <= self.up_to.to(d.unit).value
        )


def named(grades: Iterable[Grade], text: str) -> tuple[Grade, ...]:
    """Every row of the class or grade that a text names: "8.8", "SAE grade 5", "A2-70".

    Raises:
        ValueError: it names none that is known; says how they are written.
    """
    text = text.strip()
    for standard, pattern in (("ISO 898-1", _CLASS), ("SAE J429", _SAE), ("ISO 3506", _STAINLESS)):
        match = pattern.fullmatch(text)
        if match is None:
            continue
        found = [g for g in grades if g.standard.startswith(standard)
                 and g.name == match["name"].upper()]  # fmt: skip
        if found:
            reduced = "zero" in match.groupdict() and match["zero"]
            return tuple(_less(grade) if reduced else grade for grade in found)
    msg = f'"{text[:40]}" is no grade known here; write it like 8.8, SAE grade 5 or A2-70'
    raise ValueError(msg)


def grade_for(rows: Iterable[Grade], thread: Thread) -> Grade | None:
    """The row among these that holds for the thread's size, None when none does."""
    return next((grade for grade in rows if grade.holds_for(thread)), None)


def strongest(grades: Iterable[Grade], thread: Thread) -> Grade:
    """The strongest grade that is made for a thread's system: 12.9, or SAE grade 8.

    Raises:
        ValueError: no grade at all for it.
    """
    steel = [g for g in grades if g.metric == (thread.series == "M")]
    return max(steel, key=lambda grade: grade.bears.value * grade.bears.unit.factor)


def _less(grade: Grade) -> Grade:
    """The grade with the reduced loadability that a leading zero marks."""

    def less(stress: Quantity) -> Quantity:
        return Quantity(stress.value * _REDUCED, stress.unit)

    return replace(
        grade,
        name=f"0{grade.name}",
        proof=less(grade.proof) if grade.proof is not None else None,
        yields=less(grade.yields),
        tensile=less(grade.tensile),
    )
