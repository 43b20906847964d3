"""What is told when nobody can be heard."""

from __future__ import annotations

import pytest

from assistant.bay.deafness import Deafness
from assistant.hearing.ear import Nothing
from assistant.job.state import Mode
from tests.bays import Shop, shop
from tests.job.bench import at_step


def _told(deafness: Deafness, reason: str, now: float = 0.0) -> tuple[str, bool] | None:
    told = deafness.noticed(reason, now)
    return None if told is None else (told.line.key, told.aloud)


@pytest.mark.parametrize(
    ("reason", "key"),
    [("lost", "microphone.lost"), ("dead", "microphone.dead"), ("noise", "hearing.noise")],
)
def test_it_is_told_once_and_its_end_too(reason: str, key: str) -> None:
    """Each hindrance is told when it begins and when it has ended, and not in between."""
    deafness = Deafness()
    assert _told(deafness, "silence") is None
    assert _told(deafness, reason) == (key, True)
    assert _told(deafness, reason) is None
    assert _told(deafness, "stopped") is None
    assert _told(deafness, "silence") == ("microphone.back", True)
    assert _told(deafness, "heard") is None


def test_a_noisy_hour_is_told_aloud_seldom() -> None:
    """A grinder that comes and goes is shown each time, and said once in ten minutes."""
    deafness = Deafness()
    aloud = 0
    for minute in range(60):
        told = deafness.noticed("noise", minute * 60.0)
        over = deafness.noticed("silence", minute * 60.0 + 30)
        assert told is not None
        assert over is not None
        assert told.aloud == over.aloud
        aloud += told.aloud
    assert aloud == 6


def test_a_microphone_lost_in_noise_is_told() -> None:
    """One hindrance after another is told as what it is."""
    deafness = Deafness()
    assert _told(deafness, "noise") == ("hearing.noise", True)
    assert _told(deafness, "lost") == ("microphone.lost", True)


def _at(step: str) -> Shop:
    return shop(spoken=True, typed=True, state=at_step(step).state).work()


def test_in_a_grinder_the_bay_says_so_and_waits() -> None:
    """While noise masks speech nothing is asked again and nothing is guessed; keys work."""
    made = _at("wipe-down")
    assert made.ear is not None
    made.ear.say(*[Nothing("noise")] * 50)
    before = made.bay.state
    for _ in range(50):
        made.bay.turn(0.0)
    assert made.bay.state == before
    assert made.events() == []
    assert made.mouth.texts == ["I cannot hear in this noise. The job waits. You can use the keys."]
    assert made.shown == made.mouth.texts
    assert [entry["lines"] for entry in made.keeper.of("said")] == [made.shown]
    made.type("where are we").say("what is off")
    assert made.events() == ["where_are_we", "what_is_off"]
    assert made.mouth.texts[-2:][0].startswith("I can hear again.")


def test_after_hold_everything_it_is_only_shown() -> None:
    """Silence was asked for: a lost microphone is shown, and not said."""
    made = _at("wipe-down").say("hold everything")
    assert made.mode() is Mode.FROZEN
    said = len(made.mouth.texts)
    assert made.ear is not None
    made.ear.say(Nothing("lost"))
    made.bay.turn(0.0)
    assert len(made.mouth.texts) == said
    assert made.shown[-1].startswith("I have lost the microphone.")
