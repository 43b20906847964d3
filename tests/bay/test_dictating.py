"""Who dictates at once, without waiting for the prompt, is not talked over."""

from __future__ import annotations

import time
from collections.abc import Iterable
from dataclasses import replace

import pytest

from assistant.hearing.ear import Ear
from assistant.hearing.engines import Recognized
from assistant.job.state import Mode
from tests.bays import Shop, shop
from tests.hearing.fakes import QUIET, VOICE, Parrot, Tape, voiced
from tests.job.bench import at_step

PROMPT_FRAMES = 40
"""The assistant speaks for 1.3 s."""


class _Street(Tape):
    """Sound that goes on whether anybody listens or not."""

    def pass_by(self, frames: int) -> None:
        """So much of it passes unheard."""
        for _ in range(frames):
            next(self.frames(), None)


def _bay(frames: Iterable[bytes], *said: str) -> Shop:
    """A bay with a real ear, an engine that is sure of "take a note" early, and a slow voice."""
    made = shop(spoken=True, state=at_step("pad-wear").state)
    street = _Street(frames)
    parrot = Parrot(said, glance=Recognized("take a note", 1.0))
    ear = Ear(street, parrot, detector=voiced)
    made.bay._ports = replace(made.bay._ports, ear=ear)
    made.mouth.while_speaking = lambda: street.pass_by(PROMPT_FRAMES)
    return made


@pytest.mark.parametrize("gap", [4, 8, 16], ids=["0.13 s", "0.26 s", "0.51 s"])
def test_nothing_is_lost_of_what_is_dictated_at_once(gap: int) -> None:
    """All sound of the first sentence is in the note, however soon it follows the command."""
    pause = [QUIET] * 40
    words = [*pause, *[VOICE] * 12, *[QUIET] * gap, *[VOICE] * 60, *pause, *[VOICE] * 12, *pause]
    made = _bay(words, "", "end of note")
    while made.mode() is Mode.STEP:
        made.bay.turn(1.0)
    made.bay.turn(1.0)
    assert made.events()[-2:] == ["take_note", "dictated"]
    assert made.keeper.clips[-1].count(VOICE) == 60


def test_who_waits_for_the_prompt_hears_it() -> None:
    """When nobody goes on, the prompt is said, and the note is what comes after it."""
    pause = [QUIET] * 80
    words = [*pause, *[VOICE] * 12, *pause, *[VOICE] * 60, *pause, *[VOICE] * 12, *pause]
    made = _bay(words, "", "end of note")
    made.bay.turn(3.0)
    assert made.mouth.texts == ["Recording a note."]
    made.bay.turn(1.0)
    assert made.keeper.clips[-1].count(VOICE) == 60


@pytest.mark.parametrize("headset", [False, True])
def test_hold_everything_at_once_freezes(headset: bool) -> None:
    """The freeze counts where the note has just been asked for, too."""
    made = shop(spoken=True, headset=headset, state=at_step("pad-wear").state)
    assert made.ear is not None
    made.ear.meanwhile.append("hold everything")
    made.say("take a note")
    made.bay.turn(0.0)
    assert made.mode() is Mode.FROZEN
    assert made.events()[-2:] == ["take_note", "freeze"]


def test_with_a_headset_words_over_the_prompt_are_in_the_note() -> None:
    """Full duplex: what is dictated while the prompt sounds is kept, and the prompt stopped."""
    made = shop(spoken=True, headset=True, state=at_step("pad-wear").state)
    ear = made.ear
    assert ear is not None

    def speaking() -> None:
        ear.say("scratch on the tank")
        for _ in range(200):  # another thread hears it; two seconds are ample
            if not ear.waiting:
                return
            time.sleep(0.01)

    made.mouth.while_speaking = speaking
    made.say("take a note")
    made.mouth.while_speaking = None
    ear.say("end of note")
    made.bay.turn(0.0)
    assert made.events()[-2:] == ["take_note", "dictated"]
    assert made.keeper.of("dictated")[0]["seconds"] == pytest.approx(4 * 0.4)


def test_a_typed_line_waits_until_the_note_is_over() -> None:
    """What was dictated already is not given up for a line typed meanwhile."""
    made = shop(spoken=True, typed=True, state=at_step("pad-wear").state)
    assert made.ear is not None
    assert made.keys is not None
    made.ear.meanwhile.append("scratch on the tank")
    made.say("take a note")
    made.keys.type("where are we")
    made.ear.say("end of note")
    made.bay.turn(0.0)
    assert made.keeper.of("dictated")[0]["seconds"] == pytest.approx(4 * 0.4)
    made.bay.turn(0.0)
    assert made.events()[-1] == "where_are_we"
