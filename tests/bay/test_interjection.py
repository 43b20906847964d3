"""What is said while a decision is being made is heard before the answer sounds."""

from __future__ import annotations

import pytest

from assistant.job.state import Mode
from tests.bays import Shop, shop
from tests.job.bench import at_step


def _said(first: str, meanwhile: str) -> Shop:
    made = shop(spoken=True, state=at_step("pad-wear").state).work()
    assert made.ear is not None
    made.ear.meanwhile.append(meanwhile)
    return made.say(first)


def test_hold_everything_is_heard_before_the_answer() -> None:
    """It freezes the job at once, and the answer stays unsaid."""
    made = _said("step complete", "hold everything")
    assert made.mode() is Mode.FROZEN
    assert made.events() == ["step_done", "freeze"]
    assert not any(text.startswith("Logged.") for text in made.mouth.texts)


@pytest.mark.parametrize(
    ("line", "event"),
    [("what is off", "what_is_off"), ("correction", "correction"), ("smoke", "smoke")],
)
def test_what_asks_withdraws_or_warns_is_answered_next(line: str, event: str) -> None:
    """The answer sounds first, and then that is taken up without being said again."""
    made = _said("step complete", line)
    assert made.events() == ["step_done"]
    made.bay.turn(0.0)
    assert made.events() == ["step_done", event]


@pytest.mark.parametrize("line", ["affirm", "step complete", "negative", "carry on", "affirm it"])
def test_a_confirmation_before_its_question_never_counts(line: str) -> None:
    """Nobody can confirm or deny what has not been asked yet."""
    made = _said("step complete", line)
    made.bay.turn(0.0)
    assert made.events() == ["step_done"]
