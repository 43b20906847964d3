"""A wall clock that was set while a job ran, told from the clock that only runs forward."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from assistant.errors import RecordDamaged
from assistant.record.entry import Entry

CLOCK: Final = "clock"
_LEAST_S: Final = 2.0  # our choice: well over what writing and waiting for a turn can differ by
# Two clocks may drift apart without having been set: the kernel slews by up to 500 parts in a
# million (adjtimex(2), from memory); twice that is left to it.
_DRIFT: Final = 0.001


@dataclass(frozen=True, slots=True)
class Times:
    """The wall clock and the monotonic clock at one moment.

    Attributes:
        wall: RFC 3339 in UTC.
        mono: seconds; None where it belongs to another run of the program, perhaps of the machine.
    """

    wall: str
    mono: float | None


def step_between(before: Times, wall: str, mono: float) -> float | None:
    """Seconds by which the wall clock was set forward (or, negative, back); None if it wasn't.

    Where the monotonic clock can't be compared, only a wall clock that went back is told. A
    machine that slept looks as if it was set forward where its monotonic clock slept too.
    """
    try:
        passed = (
            datetime.fromisoformat(wall) - datetime.fromisoformat(before.wall)
        ).total_seconds()
    except (ValueError, TypeError):  # no time: the entry itself is refused with its reason
        return None
    if before.mono is None:
        return passed if passed < -_LEAST_S else None
    ran = mono - before.mono
    step = passed - ran
    return step if abs(step) > _LEAST_S + _DRIFT * abs(ran) else None


def clock_steps(entries: Iterable[Entry]) -> list[dict[str, object]]:
    """Every time the clock was set: {"n", "at", "before", "seconds"}, in order.

    Raises:
        RecordDamaged: such an entry doesn't tell what it must; names it.
    """
    return [_told(entry) for entry in entries if entry.kind == CLOCK]


def _told(entry: Entry) -> dict[str, object]:
    before, seconds = entry.data.get("before"), entry.data.get("seconds")
    if not isinstance(before, str) or not isinstance(seconds, int | float):
        msg = f"entry {entry.n} tells of a clock that was set, but not from when or how far"
        raise RecordDamaged(msg, entry.n)
    return {"n": entry.n, "at": entry.wall, "before": before, "seconds": seconds}
