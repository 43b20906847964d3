"""A rehearsal plays a job to its end and counts what became of every line."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.accounts import account_of
from assistant.checklist.model import OptionValue
from assistant.errors import BadInput
from assistant.job.state import Mode
from assistant.record.audit import audit
from assistant.rehearsal.play import RehearsalClock, result
from tests.rehearsal.stage import Stage, demo, loaded, opened, rehearsal

SHORT = "clutch-cable-adjustment"


def _play(tmp_path: Path, stage: Stage, checklist: str = SHORT) -> dict[str, object]:
    script = demo() if checklist != SHORT else demo().without_moments(SHORT)
    clock = RehearsalClock()
    job = opened(tmp_path, checklist, script, clock)
    played, shown = rehearsal(job, script, stage, clock)
    try:
        played.play()
        found = result(job, played, "echo")
        assert audit(job.folder).ok
        assert account_of(job.folder)["clock_set"] == []
        return {**found, "shown": shown, "mistakes": played.count.mistakes}
    finally:
        job.keeper.journal.close()


def test_what_is_heard_right_is_understood(tmp_path: Path) -> None:
    """With a perfect ear every line is understood once, and the job is released and sealed."""
    found = _play(tmp_path, Stage())
    assert found["status"] == "released"
    spoken = found["commands"]
    assert isinstance(spoken, dict)
    assert spoken == {
        "spoken": spoken["spoken"],
        "understood": spoken["spoken"],
        "asked_again": 0,
        "wrong": 0,
        "by_keys": 0,
    }
    assert spoken["spoken"] > 15
    assert len(str(found["seal"])) == 64


def test_the_demo_is_played_with_all_its_moments(tmp_path: Path) -> None:
    """The demo: at least 45 steps, every safety stop met and passed, every scripted line said."""
    stage = Stage()
    found = _play(tmp_path, stage, "raised-handlebar")
    assert found["status"] == "released"
    steps, stops, still = found["steps"], found["safety_stops"], found["open"]
    assert isinstance(steps, dict)
    assert isinstance(stops, dict)
    assert steps["total"] >= 45
    assert steps["confirmed"] + steps["left_out"] == steps["total"]
    assert stops["met"] == stops["passed"] >= 5
    assert still == {"off": 0, "hazards": 0, "troubles": 0, "readings": 0}
    said = [words for _, words in stage.lines]
    for moment in demo().moments:
        for line in moment.say:
            assert line.removeprefix("note:").strip() in said


def test_a_line_that_is_not_understood_is_said_again(tmp_path: Path) -> None:
    """An unclear line is counted, said again, and nothing else changes."""
    stage = Stage()
    stage.mishear("affirm", "a firm", "a fur")
    found = _play(tmp_path, stage)
    commands = found["commands"]
    assert isinstance(commands, dict)
    assert commands["asked_again"] == 2
    assert commands["wrong"] == 0
    assert found["status"] == "released"
    assert "Mara: affirm (again)" in found["shown"]  # type: ignore[operator] # a list


def test_what_is_never_understood_is_given_by_keys(tmp_path: Path) -> None:
    """After five tries the person types, as the product offers; that is counted as such."""
    stage = Stage()
    stage.mishear("affirm", *["a firm"] * 5)
    found = _play(tmp_path, stage)
    commands = found["commands"]
    assert isinstance(commands, dict)
    assert commands["by_keys"] == 1
    assert commands["asked_again"] == 5
    assert commands["understood"] == commands["spoken"] - 5
    assert found["status"] == "released"


def test_every_intent_acted_on_that_was_not_spoken_is_wrong(tmp_path: Path) -> None:
    """A mishearing that the bay acts on is counted and named, whatever comes of it."""
    stage = Stage()
    stage.mishear("step complete", "what is off", "stand by")
    found = _play(tmp_path, stage)
    commands = found["commands"]
    assert isinstance(commands, dict)
    assert commands["wrong"] == 2
    assert found["mistakes"] == [
        '"step complete" acted on as "what is off"',
        '"step complete" acted on as "stand by"',
    ]
    assert found["status"] == "released"


def test_a_value_that_was_misheard_is_wrong_and_refused(tmp_path: Path) -> None:
    """The right command with another number is wrong too; its read-back is denied."""
    stage = Stage()
    stage.mishear("reading two point five millimeters", "reading two point nine millimeters")
    found = _play(tmp_path, stage)
    commands = found["commands"]
    assert isinstance(commands, dict)
    assert commands["wrong"] == 1
    assert ("mara", "negative") in stage.lines
    assert found["status"] == "released"


def test_a_script_that_says_what_counts_nowhere_is_refused(tmp_path: Path) -> None:
    """A scripted line that can't be said where it stands is an error that names it."""
    script = demo().without_moments(SHORT)
    moment = demo().moments[0].model_copy(update={"step": "cable-look", "say": ("fly away",)})
    script = script.model_copy(update={"moments": (moment,)})
    clock = RehearsalClock()
    job = opened(tmp_path, SHORT, script, clock)
    played, _ = rehearsal(job, script, Stage(), clock)
    with pytest.raises(BadInput, match='"fly away" can\'t be said here'):
        played.play()
    job.keeper.journal.close()
    assert played.bay.state.mode is Mode.STEP


@pytest.mark.parametrize("grips", [False, True])
@pytest.mark.parametrize("abs_fitted", [False, True])
def test_the_demo_is_played_with_any_options(grips: bool, abs_fitted: bool, tmp_path: Path) -> None:
    """Whatever is fitted, the same script brings the job to its release."""
    options: dict[str, OptionValue] = {"abs": abs_fitted, "heated_grips": grips}
    clock = RehearsalClock()
    job = opened(tmp_path, "raised-handlebar", demo(), clock, options)
    names = {step.step for _, _, step in loaded("raised-handlebar").steps()}
    script = demo().for_steps({planned.id for planned in job.setting.plan.steps}, names)
    played, _ = rehearsal(job, script, Stage(), clock)
    played.play()
    job.keeper.journal.close()
    assert played.bay.closed
    assert played.count.spoken == played.count.understood


def test_going_round_in_circles_ends(tmp_path: Path) -> None:
    """A dialogue that gets no further is ended with the step where it stands."""
    script = demo().without_moments(SHORT)
    clock = RehearsalClock()
    job = opened(tmp_path, SHORT, script, clock)
    stage = Stage()
    line = "reading two point five millimeters"
    stage.mishear(line, *["reading two point nine millimeters"] * 1000)  # denied each time
    played, _ = rehearsal(job, script, stage, clock)
    with pytest.raises(BadInput, match="in circles at step"):
        played.play()
    job.keeper.journal.close()


def test_the_clock_goes_by_what_is_said_to_pass() -> None:
    """Time in a rehearsal passes only as work and speech take it, and never steps back."""
    clock = RehearsalClock()
    began = clock.wall()
    clock.pass_time(90.25)
    assert clock.mono() == 90.25
    assert clock.wall() > began
    assert clock.wall().endswith("Z")
