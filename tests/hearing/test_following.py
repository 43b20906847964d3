"""A recognizer that hears along finds what it finds in the whole at once: the real decoder."""

from __future__ import annotations

import importlib.util
import json
from collections.abc import Callable
from typing import Any

import pytest

from assistant.engines import SHIPPED_MODEL, _model_folder
from assistant.hearing.engines.following import Follower
from assistant.hearing.engines.opinion import Texts
from assistant.hearing.engines.variation import stretched
from assistant.hearing.engines.vosk_engine import load_model
from assistant.hearing.source import FRAME_BYTES, RATE, room_tone
from tests.hearing.clips import clip
from tests.real_parts import require

SAID = ("what torque", "step complete", "where are we")
EDGE = room_tone(round(0.3 * RATE))


@pytest.fixture(scope="module")
def make() -> Callable[[], Any]:
    """Makes recognizers of the shipped model for a few phrases, with alternatives."""
    require(importlib.util.find_spec("vosk"), "vosk is not installed (pip install vosk)")
    vosk, model = load_model(_model_folder(SHIPPED_MODEL).resolve())

    def made() -> Any:  # noqa: ANN401 - ships no types
        recognizer = vosk.KaldiRecognizer(model, RATE, json.dumps([*SAID, "step", "[unk]"]))
        recognizer.SetMaxAlternatives(20)
        return recognizer

    return made


def _at_once(recognizer: Any, pcm: bytes) -> Texts:  # noqa: ANN401 - ships no types
    recognizer.AcceptWaveform(pcm + EDGE)
    found = json.loads(recognizer.FinalResult())["alternatives"]
    return [(each["text"], each["confidence"]) for each in found if each["text"]]


def _follow(follower: Follower, pcm: bytes) -> None:
    for at in range(0, len(pcm), FRAME_BYTES):
        follower.feed(pcm[at : at + FRAME_BYTES])


def test_texts_and_scores_are_those_of_the_whole(make: Callable[[], Any]) -> None:
    """Heard along, looked at in the middle, and after an utterance nobody asked for."""
    follower, fresh = Follower(make()), make
    for words in SAID:
        pcm = EDGE + clip(words, "flite-slt") + EDGE
        half = len(pcm) // FRAME_BYTES // 2 * FRAME_BYTES
        expected = _at_once(fresh(), pcm)
        assert expected[0][0] == words
        follower.start()
        _follow(follower, pcm[:half])
        assert follower.texts() == _at_once(fresh(), pcm[:half])
        _follow(follower, pcm[half:])
        assert follower.texts() == expected
        assert follower.texts() == expected  # and once more, from the sound that was kept
        follower.start()
        _follow(follower, pcm[:half])  # nobody asks


def test_another_sound_leaves_the_utterance_as_it_was(make: Callable[[], Any]) -> None:
    """The same at another pace is heard on its own, and the whole again after it."""
    follower = Follower(make())
    pcm = EDGE + clip(SAID[0], "flite-slt") + EDGE
    slower = stretched(pcm, 0.93)
    follower.start()
    _follow(follower, pcm)
    assert follower.texts_of(slower) == _at_once(make(), slower)
    assert follower.texts() == _at_once(make(), pcm)


class Counting:
    """Counts the sound it gets, as a recognizer that finds nothing."""

    def __init__(self) -> None:
        self.calls: list[int] = []

    def AcceptWaveform(self, pcm: bytes) -> bool:  # noqa: N802 - the library's name
        """Count."""
        self.calls.append(len(pcm))
        return False

    def FinalResult(self) -> str:  # noqa: N802 - the library's name
        """Nothing."""
        return "{}"

    def Reset(self) -> None:  # noqa: N802 - the library's name
        """Begin anew."""


def test_what_was_heard_before_a_look_is_caught_up_with_bit_by_bit() -> None:
    """No frame after a look costs more than half a second of sound, and a look only the rest."""
    counting = Counting()
    follower = Follower(counting)
    _follow(follower, bytes(4 * RATE * 2))
    follower.texts()
    counting.calls.clear()
    follower.feed(bytes(FRAME_BYTES))
    assert sum(counting.calls) == pytest.approx(0.5 * RATE * 2, rel=0.05)
    _follow(follower, bytes(8 * FRAME_BYTES))
    counting.calls.clear()
    follower.texts()
    assert counting.calls[-1] < len(EDGE) + 8192


def test_a_long_talk_is_not_followed() -> None:
    """After seven seconds nothing more is kept of it; all of it is heard where it is asked for."""
    counting = Counting()
    follower = Follower(counting)
    _follow(follower, bytes(10 * RATE * 2))
    assert sum(counting.calls) <= 7 * RATE * 2
    follower.texts()
    assert sum(counting.calls) == 10 * RATE * 2 + len(EDGE)
