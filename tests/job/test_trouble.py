"""Troubles block the release until they are cleared; notes are kept."""

from __future__ import annotations

import textwrap
from dataclasses import replace

import pytest

from assistant import shelf
from assistant.checklist.expand import expand, option_sets
from assistant.job.state import Mode, Setting, Trouble
from assistant.opening import setting_of
from assistant.safety.hazards import Condition, Hazard
from tests.job.bench import HEAD, ROSTER, Bench, at_step
from tests.job.echo import both_ways

KINDS = ("stripped-thread", "leak", "dropped-part", "other")


def trouble(bench: Bench, kind: str = "other") -> None:
    """A trouble is reported in full."""
    assert bench.hear("report_trouble") == ("trouble.ask",)
    assert bench.hear("trouble_kind", trouble=kind) == ("trouble.describe",)
    assert bench.dictate(3.5, "the thread came out")[0] == "trouble.open"


def test_a_trouble_is_entered_with_its_facts() -> None:
    """Kind, step, person, length and text are in the record."""
    bench = at_step("hose-on")
    trouble(bench, "stripped-thread")
    (entry,) = bench.state.troubles
    assert (entry.kind, entry.step, entry.who) == ("stripped-thread", "hose-on", "mara")
    assert (entry.seconds, entry.text, entry.cleared) == (3.5, "the thread came out", False)
    assert bench.step() == "hose-on"


def test_an_open_trouble_blocks_the_release() -> None:
    """Everything else done, the job waits until it is put right (I2)."""
    bench = at_step("pad-wear")
    trouble(bench, "leak")
    bench.run_to("", Mode.BEFORE_RELEASE)
    assert bench.said()[-2:] == ("release.blocked", "release.trouble")
    assert bench.hear("carry_on") == ("release.blocked", "release.trouble")
    assert bench.hear("read_back", read_back="release", challenge="11") == ("refused.not_now",)
    bench.hear("trouble_cleared")
    bench.finish()
    assert bench.state.mode is Mode.RELEASED


def test_the_latest_trouble_is_cleared_first() -> None:
    """One at a time, newest first; then there is none left to clear."""
    bench = at_step("look-round")
    trouble(bench, "leak")
    trouble(bench, "dropped-part")
    assert bench.hear("trouble_cleared")[0] == "trouble.cleared"
    assert [t.kind for t in bench.state.open_troubles()] == ["leak"]
    bench.hear("trouble_cleared")
    assert bench.hear("trouble_cleared") == ("trouble.none",)


def test_mending_reopens_the_checks_it_names() -> None:
    """The named steps come again, their hazards are unproven, then the work goes on (I9)."""
    bench = at_step("negative-on")
    trouble(bench)
    bench.hear("trouble_cleared")
    assert bench.state.progress.hazards.fuel is Condition.CLOSED_UNPROVEN
    assert bench.state.progress.hazards.brake is Condition.CLOSED_UNPROVEN
    assert bench.step() == "leak-check"
    assert bench.hear("go_back") in (("refused.not_now",), ("back.not_across_stop",))
    bench.run_to("lever-hold")
    bench.wait(60)
    assert bench.hear("step_done") == ("hold.needed",)
    bench.run_to("negative-on", Mode.STOP)
    assert bench.waits() == (Mode.STOP, "brake_proven")
    assert bench.state.progress.hazards.open_ones() == (Hazard.BATTERY, Hazard.BRAKE)
    bench.finish()


def test_a_reopened_reading_is_measured_again() -> None:
    """What was measured before the mending no longer counts; both stay in the record (I9)."""
    bench = at_step("wipe-down")
    trouble(bench)
    bench.hear("trouble_cleared")
    bench.run_to("pad-wear")
    bench.wait(60)
    assert bench.hear("step_done") == ("step.reading",)
    bench.run_to("wipe-down")
    assert [r.name for r in bench.state.progress.readings].count("pad thickness") == 2
    bench.finish()


def test_a_hold_of_the_open_step_does_not_serve_a_reopened_one() -> None:
    """A hold affirmed before the mending is asked for again."""
    bench = at_step("lever-hold")
    trouble(bench)
    bench.hear("start_hold")
    bench.tick(30)
    bench.hear("affirm")
    bench.hear("trouble_cleared")
    bench.wait(60)
    assert bench.hear("step_done")[-1] == "hold.needed"


def test_an_alarm_can_be_told_and_cleared() -> None:
    """The trouble that an alarm leaves behind has words, at the release and when it is cleared."""
    for alarm in ("smell_of_fuel", "fluid_leak", "smoke"):
        bench = at_step("pad-wear")
        bench.hear(alarm)
        bench.run_to("", Mode.BEFORE_RELEASE)
        assert "_" not in "".join(both_ways(bench.lines()[-1]))
        bench.hear("trouble_cleared")
        assert "_" not in "".join(both_ways(bench.lines()[0]))
        bench.finish()


def test_a_trouble_at_the_stop_keeps_the_stop() -> None:
    """A trouble can be reported at a safety stop, which then stands as before."""
    bench = at_step("line-off", Mode.STOP)
    trouble(bench)
    assert bench.waits() == (Mode.STOP, "battery_off")


def test_a_note_is_kept() -> None:
    """Length, text and step are kept; the job goes on where it was."""
    bench = at_step("hose-on")
    assert bench.hear("take_note") == ("note.begin",)
    assert bench.dictate(4.4, "scratch on the left")[0] == "note.kept"
    (note,) = bench.state.notes
    assert (note.step, note.seconds, note.text) == ("hose-on", 4.4, "scratch on the left")
    assert bench.waits() == (Mode.STEP, "hose-on")


@pytest.mark.parametrize(
    "name", ["raised-handlebar", "battery-replacement", "clutch-cable-adjustment"]
)
def test_no_trouble_ends_in_a_dead_end(name: str) -> None:
    """In the shipped checklists whatever a mended trouble reopens can be done, at any time."""
    loaded = shelf.load_checklist(shelf.find_checklist(name))
    chosen = list(option_sets(loaded, 64))[-1]
    fixed = setting_of(expand(loaded, chosen), ROSTER)
    run = Bench(fixed)
    visited = []
    while run.state.mode is not Mode.RELEASED:
        if run.state.mode is Mode.STEP:
            visited.append((run.state, run.now))
        run.answer()
    for source in fixed.plan.steps:
        if not source.step.reopens:
            continue
        for state, now in visited[:: 3 if len(visited) > 30 else 1]:
            if state.progress.at >= source.number - 1:
                bench = Bench(fixed, opened=False)
                bench.now = now
                bench.state = state
                _mend(fixed, bench, source.id)


def _mend(fixed: Setting, bench: Bench, step: str) -> None:
    bench.state = replace(bench.state, troubles=(Trouble("other", step, "", "mara"),))
    bench.hear("trouble_cleared")
    for _ in range(8 * len(fixed.plan.steps)):
        if not bench.state.progress.queue:
            return
        bench.answer()
    raise AssertionError(f"trouble at {step} leads nowhere: stuck at {bench.step()}")


@pytest.mark.parametrize(
    ("alarm", "check"), [("smell_of_fuel", "leak-check"), ("fluid_leak", "lever-hold")]
)
def test_only_its_own_check_restores_a_hazard_after_an_alarm(alarm: str, check: str) -> None:
    """Once the alarm's trouble is put right, the check that proved the hazard is redone (I9)."""
    bench = at_step("pad-wear")
    bench.hear(alarm)
    bench.run_to("pad-wear")
    bench.hear("trouble_cleared")
    assert bench.step() == check
    bench.finish()
    assert [entry.step for entry in bench.state.progress.done].count(check) == 2


def test_a_check_done_since_the_alarm_is_not_asked_again() -> None:
    """A smell before the leak check: that check, done later, is enough."""
    bench = at_step("look-round")
    bench.hear("smell_of_fuel")
    bench.run_to("pad-wear")
    bench.hear("trouble_cleared")
    bench.finish()
    assert [entry.step for entry in bench.state.progress.done].count("leak-check") == 1


REOPENS_MOVING = HEAD + textwrap.indent(
    textwrap.dedent("""\
    - step: hose-off
      do: "Undo the brake hose."
      hazards: {brake: open}
      reopens: [lever-hold, roll]
    - step: hose-on
      do: "Bolt the brake hose on."
      hazards: {brake: close}
    - step: lever-hold
      do: "Hold the lever."
      hazards: {brake: prove}
    - step: roll
      do: "Roll the machine back."
      hazards: {event: machine-moved}
    - step: wipe-down
      do: "Wipe the bench."
    """),
    "      ",
)


def test_a_trouble_that_reopens_a_movement_is_cleared_once_the_brake_is_proven() -> None:
    """The movement waits for the brake's stop, not for ever."""
    bench = at_step("hose-off", text=REOPENS_MOVING)
    bench.hear("report_trouble")
    bench.hear("trouble_kind", trouble="leak")
    bench.dictate()
    bench.run_to("wipe-down")
    assert "trouble.cleared" in bench.hear("trouble_cleared")
    assert bench.step() == "lever-hold"
    bench.finish()
