"""Fluids of one job that mustn't meet (49 CFR 571.116)."""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from assistant.checklist.places import Place
from assistant.checklist.trade_words import TradeWords
from assistant.errors import Finding
from assistant.trade.fluids import BrakeFluid, fluids_in, may_mix, weaker
from assistant.trade.tables import Tables


@dataclass(frozen=True, slots=True)
class _Filled:
    """A brake fluid that a step handles.

    Attributes:
        into: the system as the step names it, None where it names none.
        location: where in the step it is written.
    """

    place: Place
    fluid: BrakeFluid
    into: str | None
    location: tuple[str | int, ...]


def fluid_findings(places: Sequence[Place], tables: Tables, words: TradeWords) -> Iterator[Finding]:
    """Pairs of brake fluids in one job that mustn't be mixed, or make each other weaker.

    Fluids that are filled into systems of different names never meet.
    """
    filled = [one for place in places for one in _filled(place, tables, words)]
    told: set[frozenset[str]] = set()
    for first, second in itertools.combinations(filled, 2):
        pair = frozenset({first.fluid.grade, second.fluid.grade})
        if len(pair) == 1 or pair in told or not _may_meet(first, second):
            continue
        told.add(pair)
        yield _finding(first, second)


def _filled(place: Place, tables: Tables, words: TradeWords) -> Iterator[_Filled]:
    step = place.step
    into = step.fluid.into.casefold() if step.fluid is not None else None
    named: list[tuple[tuple[str | int, ...], str]] = []
    if step.fluid is not None:
        named.append((("fluid", "grade"), step.fluid.grade))
    named.append((("do",), step.do))
    named.extend((("consumables", i), text) for i, text in enumerate(step.consumables))
    named.extend((("parts", i, "name"), part.name) for i, part in enumerate(step.parts))
    for location, text in named:
        for fluid in fluids_in(text, tables.brake_fluids, words.fluids):
            yield _Filled(place, fluid, into, location)


def _may_meet(first: _Filled, second: _Filled) -> bool:
    if first.into is not None and second.into is not None and first.into != second.into:
        return False
    return first.place.meets(second.place)


def _finding(first: _Filled, second: _Filled) -> Finding:
    a, b = first.fluid, second.fluid
    where = "" if first.place == second.place else f' of step "{first.place.step.step}"'
    if not may_mix(a, b):
        message = (
            f"{b.grade} ({b.base}) must never meet {a.grade} ({a.base}){where} "
            "(49 CFR 571.116); where they go into different systems, name those (fluid: into)"
        )
        return second.place.error("fluids-must-not-mix", message, *second.location)
    less, more = weaker(a, b), a if weaker(a, b) is b else b
    message = (
        f"{b.grade} meets {a.grade}{where}: the blend boils like {less.grade}, wet "
        f"{less.wet_boiling} instead of {more.wet_boiling} (49 CFR 571.116); name one grade"
    )
    return second.place.warning("fluids-of-two-grades", message, *second.location)
