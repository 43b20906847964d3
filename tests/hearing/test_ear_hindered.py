"""The ear in noise, with talk from elsewhere, and while it is busy deciding."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import pytest

from assistant.hearing.ear import FAR_OFF, Ear, Heard, Nothing
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.masking import FAR_DB
from assistant.hearing.noise import Samples, active_level_db, at_level_db, from_pcm, pink, to_pcm
from assistant.hearing.source import FRAME_S, RATE, PcmSource
from tests.hearing.clips import clip
from tests.hearing.fakes import QUIET, VOICE, Parrot, Tape, voiced
from tests.hearing.phrases import Phrases
from tests.hearing.test_microphone import HandDevice

PAUSE = [QUIET] * 20
WORD = [*PAUSE, *[VOICE] * 12, *PAUSE]
STEP = Phrases.of("step complete", "what torque", "hold everything")
GRINDER = np.resize(np.array([-9000, 9000], dtype="<i2"), 512).tobytes()
"""Louder than VOICE, and no voice to the detector of the tests."""


def _ear(frames: Sequence[bytes], *said: str) -> Ear:
    return Ear(Tape(frames), Parrot(said), detector=voiced)


@pytest.mark.parametrize("machine", [GRINDER, VOICE], ids=["no voice", "taken for a voice"])
def test_a_machine_is_told_once_and_nothing_is_guessed(machine: bytes) -> None:
    """Steady noise is told within four seconds, and gives no utterance, even if taken for one."""
    frames = [*[QUIET] * 64, *[machine] * 600, *[QUIET] * 200, *WORD]
    ear = _ear(frames, *["step complete"] * 20)
    found: list[Heard | Nothing] = []
    while not found or not isinstance(found[-1], Heard):
        found.append(ear.hear(STEP, patience_s=60.0 if not found else 1.0))
    assert found[0] == Nothing("noise")
    begun = 64 * FRAME_S
    told = [heard for heard in found if isinstance(heard, Nothing)]
    assert {one.reason for one in told} == {"noise", "silence"}
    assert [one.reason for one in told] == sorted(one.reason for one in told)  # then it is over
    assert isinstance(found[-1], Heard)
    assert found[-1].verdict == "accepted"
    assert found[-1].began_s > begun + 600 * FRAME_S


def test_a_machine_is_told_within_seconds() -> None:
    """The wait ends as soon as noise masks speech, not when patience does."""
    ear = _ear([*[QUIET] * 64, *[GRINDER] * 600])
    assert ear.hear(STEP, patience_s=60.0) == Nothing("noise")
    assert ear.now_s - 64 * FRAME_S < 4.0


def test_who_speaks_up_is_heard_in_noise() -> None:
    """A command well over noise that would mask an ordinary voice is accepted."""
    loud = np.concatenate([np.zeros(5 * RATE), from_pcm(clip("hold everything")), np.zeros(RATE)])
    loud *= 10 ** ((-12 - active_level_db(loud, RATE)) / 20)
    noise = at_level_db(pink(len(loud), 4), -25.0)
    ear = Ear(PcmSource(to_pcm(loud + noise)), PocketSphinxEngine())
    assert ear.hear(STEP, patience_s=60.0) == Nothing("noise")
    heard = ear.hear(STEP, patience_s=10.0)
    assert isinstance(heard, Heard)
    assert heard.text == "hold everything"


def test_a_note_is_kept_through_noise() -> None:
    """Noise does not end a spoken note: it is kept as sound, whatever it holds."""
    ear = _ear([*WORD, *[GRINDER] * 200, *[QUIET] * 100, *WORD], "", "", "")
    note = ear.record_speech(STEP, until_silence_s=20.0)
    assert note.ended_by == "ended"
    assert note.clip.count(VOICE) == 24


def _at(samples: Samples, dbfs: float) -> Samples:
    return samples * 10 ** ((dbfs - active_level_db(samples, RATE)) / 20)


def _talk(levels: Sequence[float], words: str) -> bytes:
    said = [_at(from_pcm(clip(words)), level) for level in levels]
    silence = np.zeros(RATE)
    whole = np.concatenate([silence, *(np.concatenate([one, silence]) for one in said)])
    return to_pcm(whole + at_level_db(pink(len(whole), 2), -70.0))


def test_the_same_words_from_far_off_are_asked_again() -> None:
    """After a person's own level is known, a phrase far under it is not acted on."""
    near = -24.0
    pcm = _talk([near, near, near, near - FAR_DB - 5, near - FAR_DB + 5], "step complete")
    ear = Ear(PcmSource(pcm), PocketSphinxEngine())
    heard = [ear.hear(STEP, patience_s=5.0) for _ in range(5)]
    assert all(isinstance(one, Heard) for one in heard)
    assert [getattr(one, "verdict", "") for one in heard] == [
        *["accepted"] * 3,
        "unclear",
        "accepted",
    ]
    assert getattr(heard[3], "why", "") == FAR_OFF


def test_who_has_walked_away_and_says_it_again_is_heard() -> None:
    """Asked again, the same person's same words count, and set a new measure."""
    near, far = -24.0, -24.0 - FAR_DB - 4
    ear = Ear(
        PcmSource(_talk([near, near, near, far, far, far], "step complete")), PocketSphinxEngine()
    )
    heard = [ear.hear(STEP, patience_s=5.0) for _ in range(6)]
    verdicts = [getattr(one, "verdict", "") for one in heard]
    assert verdicts == [*["accepted"] * 3, "unclear", "accepted", "accepted"]


def test_other_talk_from_far_off_is_not_for_us() -> None:
    """What is no phrase and far under the person's level is passed over without a question."""
    quiet = np.full(512, 1200, dtype="<i2").tobytes()  # 10 dB under VOICE: not far enough
    faint = np.concatenate([[1200], np.full(511, 60, dtype="<i2")]).astype("<i2").tobytes()
    frames = [*WORD * 3, *[quiet] * 12, *PAUSE * 2, *[faint] * 12, *PAUSE * 2]
    ear = _ear(frames, *["step complete"] * 3, "blue moon", "blue moon")
    for _ in range(3):
        assert isinstance(ear.hear(STEP), Heard)
    asked = ear.hear(STEP)
    assert isinstance(asked, Heard)
    assert asked.verdict == "unclear"
    assert ear.hear(STEP) == Nothing("ended")


class _SlowParrot(Parrot):
    """While it decides, the microphone goes on."""

    def __init__(self, said: Sequence[Recognized | str], meanwhile: Callable[[], None]) -> None:
        super().__init__(said)
        self._meanwhile = meanwhile

    def finish(self) -> Recognized:
        """Take a while."""
        self._meanwhile()
        return super().finish()


def test_nothing_is_lost_while_a_decision_is_made() -> None:
    """Speech that begins during a decision is heard from its first frame, as interjected."""
    device = HandDevice()
    microphone = device.microphone()
    stream = device.streams[0]
    later = [*[VOICE] * 12, *PAUSE, *PAUSE]
    once = iter([later])

    def go_on() -> None:
        for frame in next(once, []):
            stream.give(frame)

    engine = _SlowParrot(["step complete", "hold everything"], go_on)
    ear = Ear(microphone, engine, detector=voiced)
    for frame in WORD:
        stream.give(frame)
    first = ear.hear(STEP)
    assert isinstance(first, Heard)
    assert first.text == "step complete"
    assert microphone.waiting_s >= len(later) * FRAME_S
    second = ear.interjected(STEP)
    assert isinstance(second, Heard)
    assert second.text == "hold everything"
    assert second.clip.count(VOICE) == 12


def test_without_waiting_sound_nobody_is_waited_for() -> None:
    """When nothing waits there is no interjection, and no sound is used up."""
    ear = _ear(WORD, "step complete")
    assert ear.interjected(STEP) == Nothing("silence")
    assert ear.now_s == 0.0
    assert isinstance(ear.hear(STEP), Heard)
