"""Breaks, hand-over, starting again, timers."""

from __future__ import annotations

import pytest

from assistant.job.events import Resumed
from assistant.job.state import Mode
from assistant.safety.hazards import Condition
from tests.job.bench import PLAIN, Bench, at_step, setting


def asked_again(bench: Bench) -> None:
    """At hose-on: the standing condition, the isolated battery and the open brake are asked."""
    assert bench.waits() == (Mode.STANDING, "hose-on")
    bench.hear("affirm")
    assert bench.waits() == (Mode.STOP, "battery_off")
    bench.read_back()
    assert bench.waits() == (Mode.STOP, "brake_open")
    bench.read_back()
    assert bench.waits() == (Mode.STEP, "hose-on")


def test_opening_names_the_job_and_the_person() -> None:
    """The first words: what it is, who has it, and how the machine is held."""
    bench = Bench()
    assert bench.said() == ("job.opened", "standing.ask")
    assert bench.value("job.opened", "name") == "Mara"
    assert bench.value("standing.ask", "standing") == "Upright on the stand."
    state = bench.state
    assert (state.job, state.vehicle, state.who, state.second) == (
        "job-1",
        "WREN 7",
        "mara",
        "tobin",
    )


def test_a_short_break_costs_nothing() -> None:
    """After at most ten minutes the step is read again and the work goes on."""
    bench = at_step("hose-on")
    passed = bench.state.passed
    assert bench.hear("stand_by") == ("pause.begun",)
    assert bench.hear("step_done") == ("refused.not_now",)
    bench.wait(600)
    assert bench.hear("carry_on")[0] == "text"
    assert bench.waits() == (Mode.STEP, "hose-on")
    assert bench.state.passed == passed


def test_a_long_break_asks_what_is_open_again() -> None:
    """A second more than ten minutes: what the work depends on is confirmed again (I5)."""
    bench = at_step("hose-on")
    bench.hear("stand_by")
    bench.wait(601)
    assert bench.hear("carry_on")[0] == "pause.long"
    assert bench.state.progress.hazards.battery is Condition.OPEN_UNPROVEN
    asked_again(bench)


def test_a_break_at_a_stop_keeps_the_stop() -> None:
    """Pausing at a stop passes nothing; it is met again with another number."""
    bench = at_step("line-off", Mode.STOP)
    old = bench.number()
    bench.hear("stand_by")
    bench.hear("carry_on")
    assert bench.waits() == (Mode.STOP, "battery_off")
    assert bench.number() != old
    bench.read_back(number=old)
    assert bench.state.passed == ()


def test_hand_over_reads_out_what_is_open_and_asks_the_next_person() -> None:
    """Only when the next person agrees is it theirs; then everything open is asked again (I5)."""
    bench = at_step("hose-on")
    said = bench.hear("hand_over", name="ines")
    assert (said[0], said[-1]) == ("hand_over.begin", "hand_over.ask")
    assert "off.item" in said
    assert "release.hazards" in said
    assert bench.state.who == "mara"
    assert bench.hear("affirm")[0] == "hand_over.done"
    assert (bench.state.who, bench.state.people) == ("ines", ("mara", "ines"))
    asked_again(bench)
    bench.wait(60)
    bench.hear("step_done")
    assert bench.state.progress.done[-1].who == "ines"


@pytest.mark.parametrize("answer", ["negative", "disregard"])
def test_a_hand_over_not_taken_changes_nobody(answer: str) -> None:
    """The technician stays who they are, and nothing is asked again."""
    bench = at_step("hose-on")
    bench.hear("hand_over", name="ines")
    bench.hear(answer)
    assert bench.state.who == "mara"
    assert bench.waits() == (Mode.STEP, "hose-on")


@pytest.mark.parametrize(("name", "key"), [("zoe", "unknown"), ("mara", "same")])
def test_hand_over_to_nobody(name: str, key: str) -> None:
    """Somebody not on the roster, or the one who has it already, is refused."""
    bench = at_step("hose-on")
    assert bench.hear("hand_over", name=name) == (f"hand_over.{key}",)


def test_nothing_open_is_said_too() -> None:
    """At the start there is nothing to take over, and it says so."""
    bench = at_step("first", text=PLAIN)
    assert "hand_over.nothing" in bench.hear("hand_over", name="ines")


@pytest.mark.parametrize("way", ["hand over", "resume"])
def test_the_second_person_becomes_the_first(way: str) -> None:
    """Who takes the job over can't be their own second person: the two change places (I10)."""
    bench = at_step("hose-on")
    if way == "resume":
        bench.resume("tobin")
    else:
        bench.hear("hand_over", name="tobin")
        bench.hear("affirm")
    assert (bench.state.who, bench.state.second) == ("tobin", "mara")


def test_starting_again_asks_what_is_open_again() -> None:
    """After a crash the job goes on where it was, and nothing open is taken for granted (I5)."""
    bench = at_step("hose-on")
    done = len(bench.state.progress.done)
    bench.now = 3.0  # another run of the program, another clock
    assert bench.resume()[0] == "job.resumed"
    assert bench.value("job.resumed", "done") == str(done)
    asked_again(bench)
    assert bench.state.opened == 3.0


@pytest.mark.parametrize(
    "begun", ["reading", "start_hold", "report_trouble", "also_off", "stand_by", "take_note"]
)
def test_starting_again_drops_what_was_pending(begun: str) -> None:
    """A half-finished exchange is gone after a crash; nothing of it counts."""
    bench = at_step(
        {"reading": "resting-voltage", "start_hold": "lever-hold"}.get(begun, "hose-on")
    )
    before = bench.state.progress
    bench.hear_any(begun)
    bench.resume()
    assert bench.state.mode is Mode.STANDING
    after = bench.state.progress
    assert (after.done, after.readings, after.off) == (before.done, before.readings, before.off)


def test_starting_again_passes_no_stop() -> None:
    """A stop that was waiting waits again, with a number of its own (I3)."""
    bench = at_step("line-off", Mode.STOP)
    old = bench.number()
    bench.resume()
    bench.hear("affirm")
    assert bench.waits() == (Mode.STOP, "battery_off")
    assert bench.number() != old


def test_a_freeze_outlives_the_program() -> None:
    """Killing the program is no way out of a freeze: its read-back is asked for at once."""
    bench = at_step("hose-on")
    bench.hear("freeze")
    assert bench.resume() == ("job.resumed", "stop.number", "stop.words")
    assert bench.state.mode is Mode.FROZEN
    bench.read_back()
    asked_again(bench)


def test_a_timer_rings_once() -> None:
    """It is told when its minutes are over, in whatever the job is doing, and then forgotten."""
    bench = at_step("hose-on")
    assert bench.hear("start_timer", number="1 1/2") == ("timer.started",)
    bench.hear("start_timer", number="5")
    bench.hear("stand_by")
    assert bench.tick(89) == ()
    assert bench.tick(1) == ("timer.over",)
    assert bench.value("timer.over", "minutes") == "1 1/2"
    assert bench.tick(100) == ()
    assert bench.tick(110) == ("timer.over",)
    assert bench.state.timers == ()


def test_a_timer_cut_short_by_a_crash_is_told() -> None:
    """Its clock ended with the program, so it is said that it has to be started again."""
    bench = at_step("hose-on")
    bench.hear("start_timer", number="5")
    assert "timer.lost" in bench.resume()
    assert bench.state.timers == ()


def test_before_the_release_one_can_look_again() -> None:
    """Something that is off holds the release; back on, the job goes on to its last stops."""
    bench = Bench(setting(PLAIN)).run_to("third")
    for name in ("also_off", "name_part", "name_count", "affirm"):
        bench.hear_any(name)
    bench.run_to("", Mode.BEFORE_RELEASE)
    assert bench.hear("carry_on") == ("release.blocked", "off.item_many")
    for name in ("back_on", "name_part", "affirm"):
        bench.hear_any(name)
    assert bench.waits() == (Mode.STOP, "release")


def test_an_edited_checklist_is_said_aloud() -> None:
    """Who takes the job up hears that it goes by the checklist it began with."""
    bench = at_step("hose-on")
    bench.happens(Resumed(bench.stamp(), "mara", changed=True))
    assert "job.checklist_changed" in bench.said()
    assert "job.checklist_changed" not in bench.resume()
