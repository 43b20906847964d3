"""The report's pictures as plain numbers: where a bar begins, where a value lies."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import groupby
from math import ceil
from typing import Any

from assistant.trade.quantity import Quantity

_TICKS = (60, 300, 900, 1800, 3600, 10_800, 21_600, 43_200, 86_400)
"""Seconds between two times on the time line."""
_MOST_GAPS = 8
_APART = 0.028
"""Least distance of two marks in one lane, as a share of the line: a mark's width and a gap."""
_MOST_LANES = 4
_MARGIN = 0.25
"""Room beside the limits of a reading, as a share of what lies between them."""


@dataclass(frozen=True, slots=True)
class Bar:
    """A section of the job on the time line.

    Attributes:
        start, width: shares of the whole job, 0 to 1.
        minutes: how long it took, pauses within it included.
    """

    title: str
    start: float
    width: float
    minutes: int


@dataclass(frozen=True, slots=True)
class Mark:
    """Something at one moment of the job.

    Attributes:
        at: share of the whole job, 0 to 1.
        lane: 0 or more; marks in one lane don't touch.
    """

    kind: str
    what: str
    at: float
    lane: int = 0


@dataclass(frozen=True, slots=True)
class Gauge:
    """A reading against its limits, on a line from 0 to 1.

    Attributes:
        low, high: where the limits lie; None where there is none.
        value: where the value lies, kept on the line.
    """

    low: float | None
    high: float | None
    value: float


def moment(wall: str) -> float:
    """A time of the record in seconds."""
    return datetime.fromisoformat(wall).timestamp()


def span(account: Mapping[str, Any]) -> tuple[float, float]:
    """Beginning and end of a job in seconds; an open job ends with its last confirmation."""
    began = moment(account["began"])
    times = [moment(step["at"]) for step in account["steps"]]
    ended = moment(account["ended"]) if account["ended"] else max(times, default=began)
    return began, max(ended, began + 1.0)


def bars(account: Mapping[str, Any]) -> list[Bar]:
    """Each run of steps of one section, from the confirmation before to its last."""
    began, ended = span(account)
    found: list[Bar] = []
    before = began
    for title, steps in groupby(account["steps"], key=lambda step: str(step["section"])):
        last = moment(list(steps)[-1]["at"])
        start, width = (before - began) / (ended - began), (last - before) / (ended - began)
        found.append(Bar(title, _share(start), _share(width), max(0, round((last - before) / 60))))
        before = last
    return found


def marks(account: Mapping[str, Any]) -> list[Mark]:
    """Safety stops and troubles where they happened."""
    began, ended = span(account)
    facts: Sequence[tuple[str, str, str]] = [
        *(("stop", stop["stop"], stop["at"]) for stop in account["safety_stops"]),
        *(("trouble", trouble["kind"], trouble["at"]) for trouble in account["troubles"]),
    ]
    found: list[Mark] = []
    last: dict[int, float] = {}
    for kind, what, wall in sorted(facts, key=lambda fact: moment(fact[2])):
        at = _share((moment(wall) - began) / (ended - began))
        free = (n for n in range(_MOST_LANES) if at - last.get(n, -1.0) >= _APART)
        lane = next(free, min(last, key=lambda n: last[n]) if last else 0)
        last[lane] = at
        found.append(Mark(kind, what, at, lane))
    return found


def gauge(reading: Mapping[str, Any]) -> Gauge | None:
    """A reading against its limits, None where it has none."""
    value = Quantity.parse(reading["value"])
    limits = [
        float(Quantity.parse(text).to(value.unit).value) if text is not None else None
        for text in (reading["at_least"], reading["at_most"])
    ]
    known = [limit for limit in limits if limit is not None]
    if not known:
        return None
    now = float(value.value)
    low, high = min(*known, now) if known else now, max(*known, now)
    room = (high - low or abs(high) or 1.0) * _MARGIN
    first, last = low - room, high + room

    def place(of: float | None) -> float | None:
        return None if of is None else _share((of - first) / (last - first))

    return Gauge(place(limits[0]), place(limits[1]), _share((now - first) / (last - first)))


def _share(value: float) -> float:
    return min(1.0, max(0.0, value))


def ticks(account: Mapping[str, Any]) -> list[tuple[str, float]]:
    """Even times on the time line, at most nine, as (label, share of the whole job).

    Labels are UTC clock times, or month and day where a job goes on for days.
    """
    began, ended = span(account)
    every = next((s for s in _TICKS if (ended - began) / s <= _MOST_GAPS), _TICKS[-1])
    every *= max(1, ceil((ended - began) / every / _MOST_GAPS))
    first = ceil(began / every)
    found = []
    for at in (n * every for n in range(first, int(ended // every) + 1)):
        told = datetime.fromtimestamp(at, UTC)
        label = f"{told:%m-%d}" if every >= _TICKS[-1] else f"{told:%H:%M}"
        found.append((label, _share((at - began) / (ended - began))))
    return found


def advice(account: Mapping[str, Any]) -> Iterator[tuple[str, str, str]]:
    """What stays to be looked at, as (kind, what, more).

    Open troubles with what was told of them, values that stayed out of limits with the limits,
    things off with their count, steps left out with the reason.
    """
    yield from (("trouble", t["kind"], t["text"]) for t in account["troubles"] if not t["cleared"])
    last = {(reading["step"], reading["name"]): reading for reading in account["readings"]}
    for reading in last.values():
        if not reading["within"]:
            yield "reading", f"{reading['name']}: {reading['value']}", reading["limits"]
    yield from (("off", o["item"], str(o["count"])) for o in account["off"])
    yield from (("left out", entry["step"], entry["reason"]) for entry in account["left_out"])
