"""The ear and what may have been noise: acted on when it is a phrase, else passed over."""

from __future__ import annotations

from assistant.hearing.ear import Ear, Heard, Nothing
from assistant.hearing.engines import Recognized
from tests.hearing.fakes import QUIET, VOICE, Parrot, Tape
from tests.hearing.phrases import Phrases

STEP = Phrases.of("step complete", "say again")
WORD = [*[QUIET] * 20, *[VOICE] * 12, *[QUIET] * 40]


def _faint(frame: bytes) -> float:
    """A detector that finds a voice possible at most."""
    return 0.4 if frame == VOICE else 0.0


def test_a_doubtful_phrase_is_heard() -> None:
    """Faint words that are a phrase, with all evidence it takes, are acted on."""
    ear = Ear(Tape(WORD), Parrot(["step complete"]), detector=_faint)
    heard = ear.hear(STEP)
    assert isinstance(heard, Heard)
    assert heard.intent is not None
    assert heard.intent.name == "step_complete"


def test_nobody_is_asked_to_repeat_what_may_have_been_a_machine() -> None:
    """Doubtful sound that is no phrase, or is one without evidence, is passed over."""
    unsure = Recognized("step complete", 0.1)
    ear = Ear(Tape(WORD * 2), Parrot(["", unsure]), detector=_faint)
    assert ear.hear(STEP) == Nothing("ended")


def test_doubtful_sound_belongs_to_a_note() -> None:
    """While somebody dictates nothing is passed over."""
    ear = Ear(Tape(WORD), Parrot([""]), detector=_faint)
    assert ear.record_speech(STEP, until_silence_s=1.0).clip.count(VOICE) == 12
