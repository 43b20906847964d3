"""Brake fluids: grades, boiling points, and what must never be mixed (49 CFR 571.116)."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from assistant.trade.quantity import Quantity

_DOT: Final = re.compile(r"\bDOT[ -]?(?P<grade>\d(?:\.\d)?)(?![\d.]*\d)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class BrakeFluid:
    """A grade of brake fluid.

    Attributes:
        grade: "DOT 4", "mineral oil".
        dry_boiling, wet_boiling: least equilibrium reflux boiling points in °C, new and after
            taking up water; None for mineral oil.
        base: what it is made of.
        color: as the standard requires it.
        mixes_with: grades that may meet it; mixing lowers the blend to the weaker.
    """

    grade: str
    dry_boiling: Quantity | None
    wet_boiling: Quantity | None
    base: str
    color: str
    mixes_with: tuple[str, ...]
    source: str


def fluids_in(
    text: str, fluids: Iterable[BrakeFluid], words: Mapping[str, str]
) -> tuple[BrakeFluid, ...]:
    """The grades that a text names, in the table's order.

    Args:
        text: "DOT 4 brake fluid, sealed container".
        fluids: the table.
        words: other names for grades in the text's language: {"silicone brake fluid": "DOT 5"}.
    """
    named = {f"DOT {match['grade']}" for match in _DOT.finditer(text)}
    named |= {
        grade
        for word, grade in words.items()
        if re.search(rf"\b{re.escape(word)}\b", text, re.IGNORECASE)
    }
    return tuple(fluid for fluid in fluids if fluid.grade in named)


def may_mix(one: BrakeFluid, other: BrakeFluid) -> bool:
    """Whether two grades may meet in one system: DOT 5 silicone and mineral oil meet none."""
    return one.grade == other.grade or other.grade in one.mixes_with


def weaker(one: BrakeFluid, other: BrakeFluid) -> BrakeFluid:
    """Of two that may mix, the one whose wet boiling point the blend is taken to have.

    Raises:
        ValueError: they must not be mixed.
    """
    if not may_mix(one, other) or one.wet_boiling is None or other.wet_boiling is None:
        msg = f"{one.grade} ({one.base}) and {other.grade} ({other.base}) must not be mixed"
        raise ValueError(msg)
    return one if one.wet_boiling.value <= other.wet_boiling.value else other
