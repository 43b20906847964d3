"""Field log, replayed: records (A28, A29, A30) and the procedure itself (A42)."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

from assistant.accounts import account_of, account_text
from assistant.bay import Bay
from assistant.checklist.loader import load
from assistant.job.events import Opened, Stamp, Tick
from assistant.job.state import Mode
from assistant.job.summary import account
from assistant.opening import open_job
from assistant.ports import Ports
from assistant.record.entry import wall_text
from assistant.speaking.testing import ScriptedMouth
from assistant.testing import ScriptedClock, ScriptedKeys
from tests.bays import fresh_numbers, shop
from tests.field_log.replay import job
from tests.job.bench import ALL_HAZARDS, ROSTER, at_step

OIL = """\
- step: arrival
  do: "Note what is already leaking, scratched or missing."
- step: level
  do: "Look at the level."
"""


def test_a28_the_puddle_dispute() -> None:
    """Caught in the record: a note on arrival stands before the first step, with time and name.

    A checklist has to ask for it; a job without such a step begins without it.
    """
    bench = job(OIL)
    bench.answer()
    bench.hear("take_note")
    bench.dictate(text="old engine, wet at the drain plug")
    bench.wait(120)
    bench.hear("step_done")
    told = account(bench.setting, bench.state)
    (note,) = told["notes"]
    assert note["text"] == "old engine, wet at the drain plug"
    assert note["step"] == "arrival"
    assert bench.state.notes[0].who == "mara"
    assert told["began"] <= note["at"] < told["steps"][0]["at"]


def test_a29_one_failed_write_half_a_day_of_nothing() -> None:
    """Prevented at the first failed write: said aloud, nothing counts, and writing is tried again.

    Two minutes of full disk: nothing is served from memory meanwhile or made up for later.
    """
    made = shop(typed=True, state=at_step("wipe-down").state).work()
    before = made.bay.state
    made.keeper.failure = "no space left"
    for _ in range(4):
        made.type("step complete").work(30)
    assert made.bay.state == before
    assert made.mouth.texts[0].startswith("Stop work.")
    assert made.keeper.entries == []
    made.keeper.failure = ""
    made.bay.turn(0.0)
    assert made.bay.state == before
    assert made.mouth.texts[-1].startswith("The record can be written again.")
    made.type("step complete")
    assert made.events() == ["step_done"]


HELD = """\
- step: lever
  do: "Hold the clutch lever."
  hold: {time: "30 s", what: "lever firm"}
- step: after
  do: "Wipe the bench."
"""


def test_a30_a_gap_of_fourteen_minutes_that_never_happened() -> None:
    """Prevented in all that is timed: the wall clock is set, and hold and duration don't notice.

    Both clocks stand beside each other in every entry.
    """
    bench = job(HELD)
    bench.answer()

    def stamp(wall: str) -> None:
        bench.stamp = lambda: Stamp(wall, bench.now, 42)  # type: ignore[method-assign] # clock set

    stamp("2026-03-02T10:20:00Z")
    bench.hear("start_hold")
    stamp("2026-03-02T10:34:00Z")
    bench.tick(5)
    assert bench.waits() == (Mode.HOLDING, "lever")
    stamp("2026-03-02T10:20:10Z")
    bench.tick(25)
    assert bench.waits() == (Mode.HOLD_CHECK, "lever")
    bench.hear("affirm")
    bench.now += 30
    bench.hear("step_done")
    (entry,) = bench.state.progress.done
    assert entry.seconds == 60
    made = shop(typed=True)
    made.bay.begin(lambda: Opened(made.bay.stamp(), "job-1", "WREN 7", "mara", None))
    first = made.keeper.entries[0]
    assert first.wall.startswith("2026-03-02T")
    assert first.mono == 1000.0


class _SetClock(ScriptedClock):
    """A clock whose wall time somebody sets.

    Attributes:
        ahead: how far it was set forward.
    """

    ahead = timedelta()

    def wall(self) -> str:
        """See `Clock`."""
        return wall_text(datetime.fromisoformat(super().wall()) + self.ahead)


def test_a30_a_set_clock_is_an_entry(tmp_path: Path) -> None:
    """Caught in the record: whoever reads of fourteen minutes reads that the clock was set."""
    loaded = load({"small.yaml": ALL_HAZARDS}, "small.yaml")
    clock = _SetClock()
    job = open_job(
        loaded, {}, ROSTER, now=(clock.wall(), clock.mono()), engine="keys", jobs=tmp_path, job="a"
    )
    mouth, keys, numbers = ScriptedMouth(), ScriptedKeys(), fresh_numbers()
    ports = Ports(
        mouth, job.keeper, clock, lambda: next(numbers), lambda _: None, ear=None, keys=keys
    )
    bay = Bay(job.setting, job.words, ports, job.state)
    bay.begin(lambda: Opened(bay.stamp(), "a", "WREN 7", "mara", "tobin"))
    before = account_of(tmp_path / "a")
    assert before["clock_set"] == []
    clock.ahead = timedelta(minutes=14)
    bay.handle(Tick(bay.stamp()))
    told = account_of(tmp_path / "a")
    (step,) = told["clock_set"]
    assert step["seconds"] == 840
    assert step["n"] == before["entries"]
    assert any("forward by 840 s" in line for line in account_text(told))


def test_a42_the_book_changed_the_card_did_not() -> None:
    """Caught in the record: hash, version and source tell which text a job really went by."""
    told = [account(bench.setting, bench.state) for bench in (job(HELD), job(OIL), job(HELD))]
    prints = [one["checklist"]["sha256"] for one in told]
    assert prints[0] == prints[2] != prints[1]
    assert told[0]["checklist"]["version"] == "1.0.0"
