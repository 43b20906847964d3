"""What may be said now: the intents the table admits, narrowed by what the step asks for."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping

from assistant.checklist.model import Step
from assistant.job.state import JobState, Mode, Setting
from assistant.job.table import TABLE
from assistant.trade.quantity import unit_named

Fillers = Mapping[str, Mapping[str, tuple[str, ...]]]

# A long list of numbers is admitted only where a number is asked: fewer phrases, fewer
# mishearings. These intents make sense only for steps that have what they are about.
_ONLY_IF: Mapping[str, Callable[[Step], bool]] = {
    "reading": lambda step: bool(step.readings),
    "start_hold": lambda step: step.hold is not None,
    "name_side": lambda step: step.side is not None,
    "what_setting": lambda step: step.torque is not None,
    "convert": lambda step: step.torque is not None,
    "read_part_number": lambda step: any(part.number for part in step.parts),
}


def admitted(setting: Setting, state: JobState) -> frozenset[str]:
    """Names of the intents that count in this state."""
    planned = state.step(setting)
    names = {name for mode, name in TABLE if mode is state.mode and not name.startswith("(")}
    for name, has in _ONLY_IF.items():
        if planned is None or not has(planned.step):
            names.discard(name)
    if not setting.wrenches:
        names.discard("use_wrench")
    if state.mode is Mode.FROZEN and state.challenge is None:
        names.discard("read_back")
    return frozenset(names)


def fillers(setting: Setting, state: JobState) -> Fillers:
    """Words that the state fills in: the read-back wanted now, and the roster's names."""
    filled: dict[str, Mapping[str, tuple[str, ...]]] = {
        "name": {person: (name.lower(),) for person, name in setting.roster.items()},
    }
    if setting.wrenches:
        filled["wrench"] = {w.name: (w.name.lower(),) for w in setting.wrenches}
    planned = state.step(setting)
    if planned is not None and planned.step.readings and setting.units:
        asked = {reading.unit for reading in planned.step.readings}
        filled["unit"] = units_heard(asked, setting.units)
    wanted = read_back_wanted(setting, state)
    if wanted is not None:
        key, words = wanted
        filled["read_back"] = {key: (words,)}
    return filled


_FRACTION_UNITS = frozenset({"in", "turn"})
"""Units that the trade measures in fractions (common practice, no source)."""


def fractions(setting: Setting, state: JobState) -> bool:
    """Whether a number may be a fraction now; three eighths of a millimeter is a mishearing."""
    planned = state.step(setting)
    if planned is None:
        return False
    return in_fractions({reading.unit for reading in planned.step.readings})


def in_fractions(asked: Collection[str]) -> bool:
    """Whether a reading in one of these units may be a fraction."""
    return not _FRACTION_UNITS.isdisjoint(asked)


def units_heard(
    asked: Collection[str], units: Mapping[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    """Units of what a step asks for, and others of its kind that don't sound like them.

    "liters" is the end of "milliliters": where one is asked for, the other is not admitted.

    Args:
        asked: symbols of the units that the step's readings have.
        units: all that can be said: {symbol: ways}.
    """
    kinds = {unit_named(symbol).dimension for symbol in asked}
    wanted = [way for symbol in asked for way in units.get(symbol, ())]
    return {
        symbol: ways
        for symbol, ways in units.items()
        if symbol in asked
        or (unit_named(symbol).dimension in kinds and not _sounds_like(ways, wanted))
    }


def _sounds_like(ways: Iterable[str], wanted: Iterable[str]) -> bool:
    return any(a.endswith(b) or b.endswith(a) for a in ways for b in wanted)


def read_back_wanted(setting: Setting, state: JobState) -> tuple[str, str] | None:
    """Key and words of the read-back that this state waits for, or None."""
    if state.mode is Mode.STOP and state.stop is not None:
        return state.stop.value, setting.stops.stops[state.stop].read_back
    if state.mode in (Mode.SECOND_PERSON, Mode.STOP_SECOND):
        return "second_person", setting.stops.second_person
    if state.mode is Mode.FROZEN:
        return "freeze", setting.stops.freeze
    return None
