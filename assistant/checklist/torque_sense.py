"""Whether a wrench can give a torque, its passes can be told apart, and somebody vouches for it."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise
from typing import Final

from assistant.checklist.figures import about, percent
from assistant.checklist.model import Adapter, Torque
from assistant.checklist.model import Wrench as WrittenWrench
from assistant.checklist.places import Place
from assistant.checklist.trade_words import TradeWords, first_named
from assistant.errors import Finding
from assistant.trade.adapter import STRAIGHT, setting
from assistant.trade.quantity import Dimension, Quantity, unit_named
from assistant.trade.wrenches import TorqueWrench, tolerance

_SQUARE: Final = Quantity(Fraction(90), unit_named("°"))


def torque_findings(place: Place, words: TradeWords) -> Iterator[Finding]:
    """All findings about the torque of one step; torques that are none are told elsewhere."""
    torque = place.step.torque
    if torque is None or torque.value.unit.dimension is not Dimension.TORQUE:
        return
    yield from _source(place, torque, words)
    yield from _units(place, torque)
    yield from _passes(place, torque)
    if torque.wrench is not None:
        yield from _wrench(place, torque, torque.wrench)
    elif torque.adapter is not None and torque.adapter.angle != _SQUARE:
        message = f"the {torque.adapter.name} changes the setting; name its wrench and its lever"
        yield place.error("adapter-without-lever", message, "torque", "adapter")


# -- who vouches for it


def _source(place: Place, torque: Torque, words: TradeWords) -> Iterator[Finding]:
    source = torque.source.strip().casefold()
    if source in words.no_source or source.rstrip(".") in words.no_source:
        message = (
            f'"{torque.source}" is no source for {torque.value}; name the document and its page, '
            "so that the next person can look it up"
        )
        yield place.error("torque-without-source", message, "torque", "source")
        return
    generic = first_named(torque.source, words.generic_source)
    if generic is not None:
        message = (
            f'"{torque.source}" is a table for all bolts, not for this one: a table tells '
            f"whether {torque.value} is plausible, only the maker's document says that it is right"
        )
        yield place.error("torque-from-table", message, "torque", "source")


# -- passes and units


def _units(place: Place, torque: Torque) -> Iterator[Finding]:
    value = torque.value
    for index, stage in enumerate(torque.stages):
        if stage.unit != value.unit and stage.unit.dimension is Dimension.TORQUE:
            message = (
                f"{stage} and {value} are two units in one tightening, and a wrench shows one; "
                f"{stage} is {about(stage.to(value.unit))}"
            )
            yield place.warning("two-torque-units", message, "torque", "stages", index)


def _passes(place: Place, torque: Torque) -> Iterator[Finding]:
    stages = [*torque.stages, torque.value]
    if any(one.unit.dimension is not Dimension.TORQUE or one.value <= 0 for one in stages):
        return
    for index, (one, following) in enumerate(pairwise(stages)):
        off = tolerance(following)
        below = 1 - one.to(following.unit).value / following.value
        if 0 < below <= off:
            message = (
                f"{one} is only {percent(below)} below {following}, and a torque wrench may be off "
                f"by {percent(off)} (ISO 6789): the two passes can't be told apart"
            )
            yield place.warning("stages-too-close", message, "torque", "stages", index)


# -- the wrench


def _wrench(place: Place, torque: Torque, written: WrittenWrench) -> Iterator[Finding]:
    try:
        wrench = TorqueWrench(written.name, written.most, written.least, written.lever)
    except ValueError as error:
        yield place.error("bad-wrench", f"{written.name}: {error}", "torque", "wrench")
        return
    try:
        set_to = tool_setting(torque.value, wrench, torque.adapter)
    except ValueError as error:
        code = "bad-adapter" if wrench.lever is not None else "adapter-without-lever"
        yield place.error(code, str(error), "torque", "adapter")
        return
    if not wrench.covers(set_to):
        yield place.error("wrench-range", _out_of_range(torque, wrench, set_to), "torque", "wrench")


def tool_setting(wanted: Quantity, wrench: TorqueWrench, adapter: Adapter | None) -> Quantity:
    """What the wrench is set to, in its own unit, so that the fastener gets the wanted torque.

    Raises:
        ValueError: the adapter's measures can't be, or it changes the setting and the lever of the
            wrench is not known.
    """
    shown = wrench.shows(wanted)
    if adapter is None or adapter.angle == _SQUARE:
        return shown
    if wrench.lever is None:
        msg = (
            f"the {adapter.name} changes the setting; give the lever of the {wrench.name}, middle "
            "of the grip to the drive square"
        )
        raise ValueError(msg)
    return setting(shown, wrench.lever, adapter.offset, adapter.angle or STRAIGHT)


def _out_of_range(torque: Torque, wrench: TorqueWrench, set_to: Quantity) -> str:
    through = f" through the {torque.adapter.name}" if torque.adapter is not None else ""
    same = set_to == torque.value
    setting_is = "" if same else f", a setting of {about(set_to)}"
    fifth = "" if wrench.from_ == wrench.least else " (20 % of its scale)"
    return (
        f"the {wrench.name} is good from {about(wrench.from_)}{fifth} to {about(wrench.most)}, "
        f"and {torque.value}{through}{setting_is} is outside; name a wrench whose range holds it"
    )
