"""The whole program where the wall clock is set in the middle of a job.

The clock is libfaketime's, a general tool that answers a process's questions for the time; the
monotonic clock stays the system's own.
"""

from __future__ import annotations

from datetime import datetime
from itertools import pairwise
from pathlib import Path

from assistant.record.clocks import CLOCK, clock_steps
from assistant.record.reading import read_entries
from tests.end_to_end.running import NO_LOUDSPEAKER, Live, gloveson, live
from tests.real_parts import require

_HOUR, _DAY = 3600, 86_400
_QUICK = "That was quicker than this work takes."


def _library() -> str:
    found = [
        *Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1"),
        *Path("/usr/lib").glob("faketime/libfaketimeMT.so.1"),
    ]
    require(found, "libfaketime (Debian's package faketime) is not installed")
    return str(found[0])


class Wall:
    """A wall clock that can be set, for programs begun with `extra`."""

    def __init__(self, place: Path) -> None:
        self._file = place / "offset"
        self.extra = {
            "LD_PRELOAD": _library(),
            "FAKETIME_TIMESTAMP_FILE": str(self._file),
            "FAKETIME_NO_CACHE": "1",
            "FAKETIME_DONT_FAKE_MONOTONIC": "1",
        }
        self.set(0)

    def set(self, seconds: int) -> None:
        """So far from the system's clock, from now on."""
        fresh = self._file.with_name("fresh")
        fresh.write_text(f"{seconds:+d}\n", encoding="ascii")
        fresh.replace(self._file)  # whoever reads it meanwhile sees the old or the new


def _done(job: Live, next_step: str) -> None:
    """Confirm a step. It is too quick for the work, whatever the wall clock shows."""
    seen = len(job.screen)
    job.type("step complete")
    assert job.shows(_QUICK, after=seen), job.screen[seen:]
    job.type("affirm")
    assert job.shows(next_step, after=seen), job.screen[seen:]


def test_a_wall_clock_set_back_and_forth(tmp_path: Path) -> None:
    """Back an hour, forth a day, back a day, and back two hours over a restart.

    Entries keep the order in which things happened, steps take the time that passed, the audit
    finds nothing wrong, and record, audit and report say that the clock was set.
    """
    wall, folder = Wall(tmp_path), tmp_path / "jobs" / "one"
    command = ("start", "clutch-cable-adjustment", "--who", "Mara", "--job", "one", "--typed")
    with live(tmp_path, *command, *NO_LOUDSPEAKER, extra=wall.extra) as job:
        assert job.shows("Is it?"), job.screen
        job.type("affirm")
        assert job.shows("Set the machine upright"), job.screen
        wall.set(-_HOUR)
        _done(job, "Select neutral.")
        wall.set(_DAY - _HOUR)
        _done(job, "Measure the clutch free")
        wall.set(-_HOUR)
        job.type("what is off")
        assert job.shows("Nothing is off"), job.screen
        assert job.interrupt() == 1
    wall.set(-3 * _HOUR)
    with live(tmp_path, "resume", "one", "--typed", *NO_LOUDSPEAKER, extra=wall.extra) as job:
        assert job.shows("We go on with this job. Mara has it. Steps done so far: 2."), job.screen
        assert job.interrupt() == 1

    entries = read_entries(folder)
    assert [entry.n for entry in entries] == list(range(len(entries)))
    assert all(a.mono <= b.mono for a, b in pairwise(entries))  # one machine, never shut down
    _steps_are_told(folder)
    happened = [
        entry.data["intent"]["phrase"]  # type: ignore[index,call-overload] # a heard line's own
        for entry in entries
        if entry.kind == "heard"
    ]
    assert happened == ["affirm", *["step complete", "affirm"] * 2, "what is off"]

    audited = gloveson(tmp_path, "audit", "one")
    assert (audited.code, audited.err) == (0, "")
    assert "the clock was set 4 x" in audited.out
    account = gloveson(tmp_path, "record", "one", "--json").json()
    assert [step["number"] for step in account["steps"]] == [1, 2]
    assert gloveson(tmp_path, "record", "one", "--html", "page.html").code == 0
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert "clock was set 4 times while this job was open" in page
    assert 'width="-' not in page


def _steps_are_told(folder: Path) -> None:
    """Four steps of the clock: each told before what came next, as far as the wall moved."""
    entries = read_entries(folder)
    told = clock_steps(entries)
    by = [round(float(str(step["seconds"])) / _HOUR, 1) for step in told]
    assert by == [-1, 24, -24, -2]
    places = [entry.n for entry in entries if entry.kind == CLOCK]
    jumps = [
        later.n
        for before, later in pairwise(entries)
        if abs(_seconds(later.wall) - _seconds(before.wall)) > _HOUR / 2
    ]
    assert places == jumps


def _seconds(wall: str) -> float:
    return datetime.fromisoformat(wall).timestamp()
