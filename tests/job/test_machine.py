"""The transition function: pure, and the replay of its events."""

from __future__ import annotations

from types import MappingProxyType

import pytest

from assistant.job import table
from assistant.job.events import Opened
from assistant.job.machine import IllegalTransition, advance, replay
from assistant.job.state import JobState, Mode
from assistant.job.table import Rule
from tests.job.bench import Bench, at_step, setting


def test_replay_is_the_job() -> None:
    """The events alone give the same state again: resuming is nothing else."""
    bench = Bench().finish()
    assert replay(bench.setting, bench.events) == bench.state
    assert replay(bench.setting, ()) == JobState()


def test_a_step_back_in_the_events_is_a_job_not_so_far() -> None:
    """A record cut short after any event replays to the state of that moment."""
    bench = Bench()
    states = [bench.state]
    while bench.state.mode is not Mode.RELEASED:
        count = len(bench.events)
        bench.answer()
        states.extend(
            replay(bench.setting, bench.events[:n]) for n in range(count + 1, len(bench.events) + 1)
        )
    assert states[-1] == bench.state
    assert len(states) == len(bench.events)


@pytest.mark.parametrize("guess", ["affirm", "step complete", "negative is off and clear one one"])
def test_what_was_not_understood_never_counts(guess: str) -> None:
    """Asked once more, then the keys are offered; the guess itself is never acted on (I8)."""
    for bench in (at_step("hose-on"), at_step("line-off", Mode.STOP)):
        before = bench.state
        assert bench.unclear(guess) == ("unclear.again",)
        assert bench.unclear(guess) == ("unclear.keys",)
        assert bench.state.unclear == 2
        assert bench.state.progress == before.progress
        assert bench.state.challenge == before.challenge
        bench.hear("what_is_off")
        assert bench.unclear() == ("unclear.again",)


@pytest.mark.parametrize("pause", ["stand_by", "freeze"])
def test_talk_in_a_pause_is_not_answered(pause: str) -> None:
    """People talk while the work rests; nobody is asked to say it again."""
    bench = at_step("hose-on")
    bench.hear(pause)
    before = bench.state
    assert bench.unclear("anything") == ()
    assert bench.state == before


def test_a_job_is_opened_once() -> None:
    """A second opening is refused."""
    bench = Bench()
    before = bench.state
    assert bench.happens(Opened(bench.stamp(), "job-2", "OTHER", "ines")) == ("refused.not_now",)
    assert bench.state == before


def test_a_released_job_takes_nothing_more() -> None:
    """Nothing that is said or done changes it."""
    bench = Bench().finish()
    before = bench.state
    for name in ("step_done", "correction", "freeze", "say_again"):
        assert bench.hear(name) == ()
    bench.resume()
    bench.unclear()
    bench.tick(1e6)
    assert bench.state == before


def test_a_handler_that_leaves_the_table_is_caught(monkeypatch: pytest.MonkeyPatch) -> None:
    """A mode that the table doesn't allow is an error of the program, not a state of the job."""
    wrong = dict(table.TABLE)
    rule = wrong[Mode.STANDING, "affirm"]
    wrong[Mode.STANDING, "affirm"] = Rule(rule.handler, frozenset({Mode.RELEASED}))
    monkeypatch.setattr(table, "TABLE", MappingProxyType(wrong))
    bench = Bench()
    with pytest.raises(IllegalTransition):
        bench.hear("affirm")


def test_advance_leaves_the_old_state_alone() -> None:
    """The old state is a value; going on from it again gives the same."""
    bench = at_step("hose-on")
    before = bench.state
    bench.wait(60)
    bench.hear("step_done")
    again, effects = advance(setting(), before, bench.events[-1])
    assert (again, effects) == (bench.state, bench.effects)
