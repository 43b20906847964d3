"""Readings whose limits nothing can meet, or that don't go with the step's own torque."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from typing import Final

from assistant.checklist.figures import about, percent
from assistant.checklist.model import Reading
from assistant.checklist.places import Place
from assistant.checklist.trade_words import TradeWords, first_named
from assistant.errors import Finding
from assistant.trade.limits import Limits, Standing
from assistant.trade.quantity import Dimension, Quantity, unit_named
from assistant.trade.tables import Tables
from assistant.trade.wrenches import tolerance

_COLDEST: Final = Quantity(Fraction(-27315, 100), unit_named("°C"))
_SIGNED: Final = {Dimension.ANGLE, Dimension.TEMPERATURE, Dimension.VOLTAGE, Dimension.PRESSURE}
# A pressure is read against the air's: least 1 standard atmosphere below it (101.325 kPa, exact).
_VACUUM: Final = Quantity(Fraction(-101_325, 1000), unit_named("kPa"))


def reading_findings(place: Place, tables: Tables, words: TradeWords) -> Iterator[Finding]:
    """Findings about the readings of one step; limits of another kind are told elsewhere."""
    for index, reading in enumerate(place.step.readings):
        unit = unit_named(reading.unit)
        limits = [q for q in (reading.at_least, reading.at_most) if q is not None]
        if any(limit.unit.dimension is not unit.dimension for limit in limits):
            continue
        yield from _impossible(place, reading, index)
        yield from _no_room(place, reading, index)
        if unit.dimension is Dimension.TORQUE:
            yield from _own_torque(place, reading, index)
        if unit.dimension is Dimension.VOLTAGE:
            yield from _battery(place, reading, index, tables, words)


def _impossible(place: Place, reading: Reading, index: int) -> Iterator[Finding]:
    for name, limit in (("at_least", reading.at_least), ("at_most", reading.at_most)):
        if limit is None:
            continue
        least = _lowest(limit)
        if least is not None and limit.value < least.value:
            message = f'"{reading.name}": {limit} can\'t be; nothing measures below {least}'
            yield place.error("reading-impossible", message, "readings", index, name)


def _lowest(limit: Quantity) -> Quantity | None:
    """The lowest value there is of this kind, in the limit's unit."""
    dimension = limit.unit.dimension
    if dimension is Dimension.TEMPERATURE:
        return _COLDEST.to(limit.unit)
    if dimension is Dimension.PRESSURE:
        return _VACUUM.to(limit.unit)
    return None if dimension in _SIGNED else Quantity(Fraction(0), limit.unit)


def _no_room(place: Place, reading: Reading, index: int) -> Iterator[Finding]:
    low, high = reading.at_least, reading.at_most
    if low is None or high is None or low.to(high.unit).value != high.value:
        return
    message = f'"{reading.name}": only exactly {low} passes; nobody measures so, give it a range'
    yield place.warning("reading-without-room", message, "readings", index, "at_most")


def _own_torque(place: Place, reading: Reading, index: int) -> Iterator[Finding]:
    """A torque that is read must be able to be the step's own, and as wide as the wrench is off."""
    torque = place.step.torque
    if torque is None or torque.value.unit.dimension is not Dimension.TORQUE:
        return
    value, at = torque.value, ("readings", index)
    limits = Limits(reading.at_least, reading.at_most)
    verdict = limits.judge(value)
    if verdict.standing is not Standing.WITHIN:
        message = (
            f'"{reading.name}": the step\'s own torque, {value}, is {verdict.margin} '
            f"{verdict.standing.value} what passes ({verdict.limit})"
        )
        yield place.error("reading-excludes-torque", message, *at)
        return
    if unit_named(reading.unit) != value.unit:
        message = (
            f'"{reading.name}" is read in {reading.unit}, the torque is {value}: a wrench shows '
            "one of the two; use one"
        )
        yield place.warning("two-torque-units", message, *at, "unit")
    low, high = reading.at_least, reading.at_most
    if low is None or high is None:
        return
    off = tolerance(value)
    width = high.to(value.unit).value - low.to(value.unit).value
    needed = 2 * off * value.value
    if 0 < width < needed:
        around = Limits.around(value, off)
        message = (
            f'"{reading.name}": {low} to {high} is narrower than a torque wrench is true '
            f"(±{percent(off)} by ISO 6789: {around.at_least} to {around.at_most})"
        )
        yield place.warning("reading-narrower-than-tool", message, *at)


def _battery(
    place: Place, reading: Reading, index: int, tables: Tables, words: TradeWords
) -> Iterator[Finding]:
    """A resting voltage that only a charging battery has, and the other way round."""
    told = f"{reading.name} {reading.condition or ''}"
    if first_named(told, words.battery) is None or not tables.battery_charging:
        return
    charges = min((w.least for w in tables.battery_charging), key=lambda volts: volts.value)
    low, high = reading.at_least, reading.at_most
    charging = first_named(told, words.charging) is not None
    resting = not charging and first_named(told, words.at_rest) is not None
    if resting and low is not None and low.to(charges.unit).value >= charges.value:
        message = (
            f'"{reading.name}": {low} at rest can\'t be; a 12 V battery on charge has about '
            f"{about(charges)} and more, at rest less"
        )
        yield place.warning("reading-impossible", message, "readings", index, "at_least")
    if charging and high is not None and high.to(charges.unit).value < charges.value:
        message = (
            f'"{reading.name}": at most {high} while it charges can\'t be; charging takes about '
            f"{about(charges)} and more"
        )
        yield place.warning("reading-impossible", message, "readings", index, "at_most")
