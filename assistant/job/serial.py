"""Events to plain data and back, for the journal."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from assistant.job.events import (
    EARLIER,
    Clip,
    Dictated,
    Earlier,
    Event,
    Heard,
    Opened,
    Resumed,
    Stamp,
    Tick,
    Unclear,
)
from assistant.job.state import ShopWrench
from assistant.language.intent import Intent
from assistant.trade.quantity import Quantity
from assistant.trade.wrenches import TorqueWrench

_KINDS: Mapping[str, type[Event]] = {
    "opened": Opened,
    "heard": Heard,
    "unclear": Unclear,
    "dictated": Dictated,
    "tick": Tick,
    "resumed": Resumed,
}


KINDS = frozenset(_KINDS)
"""The journal's names of all kinds of events."""


def wrench_to_data(wrench: ShopWrench) -> dict[str, Any]:
    """Plain data of a torque wrench, for the record's header; quantities as text."""
    own = wrench.wrench
    return {
        "name": own.name,
        "most": str(own.most),
        "least": str(own.least) if own.least is not None else None,
        "lever": str(own.lever) if own.lever is not None else None,
        "calibrated_until": wrench.calibrated_until,
        "past_calibration": wrench.past_calibration,
    }


def wrench_from_data(data: Mapping[str, Any]) -> ShopWrench:
    """The wrench again.

    Raises:
        ValueError: the data is not that of a torque wrench.
    """
    try:
        least, lever = data["least"], data["lever"]
        own = TorqueWrench(
            data["name"],
            Quantity.parse(data["most"]),
            Quantity.parse(least) if least is not None else None,
            Quantity.parse(lever) if lever is not None else None,
        )
        return ShopWrench(own, data["calibrated_until"], data["past_calibration"])
    except (KeyError, TypeError) as error:
        msg = f"not a torque wrench: {error}"
        raise ValueError(msg) from error


def event_kind(event: Event) -> str:
    """The journal's name of this kind of event."""
    return next(kind for kind, of in _KINDS.items() if isinstance(event, of))


def to_data(event: Event) -> dict[str, Any]:
    """Plain data of an event; its wall and monotonic time are the journal entry's own."""
    data = asdict(event)
    stamp = data.pop("at")
    data["fresh"] = stamp["fresh"]
    if isinstance(event, Heard):
        data["intent"]["slots"] = [list(pair) for pair in event.intent.slots]
    if isinstance(event, Opened):
        data["earlier"] = list(data["earlier"]) or None  # older records have none
    return {key: value for key, value in data.items() if value is not None}


def from_data(kind: str, data: Mapping[str, Any], wall: str, mono: float) -> Event:
    """The event again.

    Raises:
        ValueError: the data is not that of an event of this kind.
    """
    fields = dict(data)
    try:
        at = Stamp(wall, mono, int(fields.pop("fresh")))
        if "clip" in fields:
            fields["clip"] = Clip(**fields["clip"])
        if "earlier" in fields:
            fields["earlier"] = tuple(map(_earlier, fields["earlier"]))
        if "intent" in fields:
            intent = dict(fields["intent"])
            slots = tuple((str(name), str(value)) for name, value in intent["slots"])
            fields["intent"] = Intent(intent["name"], slots, intent["phrase"])
        return _KINDS[kind](at=at, **fields)
    except (KeyError, TypeError, ValueError) as error:
        msg = f"not an event of kind {kind!r}: {error}"
        raise ValueError(msg) from error


def _earlier(data: Mapping[str, Any]) -> Earlier:
    """What an earlier job left, again; a journal is not to be trusted to say what can be said."""
    found = Earlier(**data)
    texts = (found.job, found.began, found.what, found.more)
    if found.kind not in EARLIER or not all(isinstance(text, str) for text in texts):
        msg = f"an earlier job can't have left {found.kind!r}"
        raise ValueError(msg)
    return found
