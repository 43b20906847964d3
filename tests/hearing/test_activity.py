"""Where utterances begin and end."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.hearing.activity import (
    PRE_ROLL_S,
    Endpointer,
    SileroDetector,
    Step,
    voiced_from,
)
from assistant.hearing.noise import active_level_db, at_level_db, from_pcm, pink, to_pcm
from assistant.hearing.room import Room
from assistant.hearing.source import FRAME_BYTES, FRAME_S, RATE
from tests.hearing.clips import clip
from tests.hearing.fakes import QUIET, VOICE, voiced


def _phases(endpointer: Endpointer, frames: list[bytes]) -> list[str]:
    return [endpointer.take(frame).phase for frame in frames]


def test_utterance_ends_after_its_trailing_silence() -> None:
    """The end comes with the first frame that makes the trailing silence long enough."""
    endpointer = Endpointer(voiced, trailing_s=0.4)
    phases = _phases(endpointer, [VOICE] * 10 + [QUIET] * 20)
    assert phases[1] == "begun"
    assert phases.index("ended") == 9 + round(0.4 / FRAME_S + 0.49)
    assert set(phases[phases.index("ended") + 1 :]) == {"quiet"}


def test_pause_within_a_phrase_does_not_end_it() -> None:
    """A pause shorter than the trailing silence belongs to the utterance."""
    endpointer = Endpointer(voiced, trailing_s=0.4)
    phases = _phases(endpointer, [VOICE] * 6 + [QUIET] * 8 + [VOICE] * 6)
    assert "ended" not in phases
    assert phases.count("begun") == 1


def test_single_frame_does_not_begin_anything() -> None:
    """One frame with a voice is a click."""
    assert set(_phases(Endpointer(voiced), [QUIET, VOICE, QUIET] * 5)) == {"quiet"}


def test_longest_utterance_is_cut() -> None:
    """A voice that never stops is cut at the limit, and what follows begins anew."""
    endpointer = Endpointer(voiced, longest_s=3.0)
    phases = _phases(endpointer, [VOICE] * 200)
    assert phases.index("too-long") * FRAME_S <= 3.0
    assert phases.count("begun") >= 2


@given(st.lists(st.tuples(st.booleans(), st.integers(1, 30)), max_size=30))
def test_nothing_is_lost_within_an_utterance(runs: list[tuple[bool, int]]) -> None:
    """The frames of an utterance are one unbroken stretch of the input, whatever comes."""
    marked: list[bytes] = []
    for loud, length in runs:
        for _ in range(length):
            head = (4000 if loud else 10).to_bytes(2, "little")
            marked.append((head + len(marked).to_bytes(4, "little")).ljust(FRAME_BYTES, b"\0"))
    endpointer = Endpointer(voiced)
    gathered: list[bytes] = []
    for frame in marked:
        step: Step = endpointer.take(frame)
        if step.phase == "begun":
            gathered = []
        gathered.extend(step.frames)
        if step.frames:
            begin = marked.index(gathered[0])
            assert gathered == marked[begin : begin + len(gathered)]
            assert gathered[-1] == frame


def _likely(*percent: int) -> list[bytes]:
    """Frames that `_told` finds so likely to hold a voice."""
    return [each.to_bytes(2, "little").ljust(FRAME_BYTES, b"\0") for each in percent]


def _told(frame: bytes) -> float:
    return int.from_bytes(frame[:2], "little") / 100


@given(st.floats(0, 1), st.floats(0, 1))
def test_what_counts_as_voiced_follows_the_likeliest_frame(one: float, other: float) -> None:
    """The likeliest frame itself always counts, and a likelier one never lowers the threshold."""
    low, high = sorted((one, other))
    assert voiced_from(high) <= high
    assert voiced_from(low) <= voiced_from(high)


def test_a_faint_voice_is_an_utterance_but_doubtful() -> None:
    """A voice that is nowhere likely begins and ends like another, and is marked."""
    endpointer = Endpointer(_told, trailing_s=0.4)
    phases = _phases(endpointer, _likely(*[0] * 9, *[32, 40, 45, 40, 35] * 3, *[0] * 20))
    assert phases.count("begun") == phases.count("ended") == 1
    assert endpointer.doubtful


@given(st.lists(st.integers(0, 100), min_size=1, max_size=60))
def test_only_what_is_likely_twice_running_is_beyond_doubt(percent: list[int]) -> None:
    """An utterance is sure when two frames in a row are, wherever they lie in it."""
    endpointer = Endpointer(_told)
    steps = [endpointer.take(frame) for frame in _likely(*percent, *[0] * 30)]
    if sum(step.phase == "begun" for step in steps) == 1:
        sure = any(min(pair) >= 50 for pair in itertools.pairwise(percent))
        assert endpointer.doubtful != sure


def test_words_after_noise_that_went_on_are_their_own_utterance() -> None:
    """Doubtful sound of more than a second is taken back, and the words have their pre-roll."""
    endpointer = Endpointer(_told, trailing_s=0.4)
    noise, words = _likely(*[40] * 50), _likely(*range(60, 90))
    steps = [endpointer.take(frame) for frame in noise + words]
    phases = [step.phase for step in steps]
    assert [each for each in phases if each not in ("quiet", "going")] == [
        "begun",
        "too-short",
        "begun",
    ]
    again = steps[phases.index("too-short") + 1]
    assert again.phase == "begun"
    assert len(again.frames) == round(PRE_ROLL_S / FRAME_S)
    assert again.frames[-3:] == tuple(words[:3])
    assert not endpointer.doubtful


def test_a_faint_beginning_stays_with_its_words() -> None:
    """What was doubtful for less than a second belongs to the words that it leads to."""
    endpointer = Endpointer(_told, trailing_s=0.4)
    phases = _phases(endpointer, _likely(*[40] * 15, *[90] * 15))
    assert phases.count("begun") == 1
    assert "too-short" not in phases
    assert not endpointer.doubtful


def test_silero_hears_a_voice_and_its_first_sound() -> None:
    """The real model begins within a spoken phrase and the pre-roll reaches back before it."""
    room = Room("pink", 20.0)
    room.speak(clip("step complete"), after_s=1.0)
    endpointer = Endpointer(SileroDetector())
    steps = [endpointer.take(frame) for frame in itertools.islice(room.frames(), 130)]
    begun = next(at for at, step in enumerate(steps) if step.phase == "begun")
    assert 1.0 < begun * FRAME_S < 1.5
    assert (begun + 1 - len(steps[begun].frames)) * FRAME_S <= 1.0
    assert sum(step.phase == "ended" for step in steps) == 1


def test_silero_ignores_steady_noise() -> None:
    """Ten seconds of each steady noise begin nothing."""
    for kind in ("white", "pink", "brown", "engine"):
        room = Room(kind, 0.0)
        endpointer = Endpointer(SileroDetector())
        phases = {endpointer.take(f).phase for f in itertools.islice(room.frames(), 310)}
        assert phases == {"quiet"}, kind


@pytest.mark.parametrize("machine_dbfs", [-12.0, -20.0, -40.0])
def test_a_voice_after_a_loud_machine_is_noticed(machine_dbfs: float) -> None:
    """One second after a machine has stopped a command is found to be a voice as in a quiet room.

    Without beginning anew, the model finds 0, 1 and 22 frames of these.
    """
    spoken = from_pcm(clip("where are we"))
    spoken *= 10 ** ((-24 - active_level_db(spoken, RATE)) / 20)
    machine = at_level_db(pink(10 * RATE, 4), machine_dbfs)
    quiet = at_level_db(pink(3 * RATE, 3), -65.0)
    quiet[RATE : RATE + len(spoken)] += spoken
    detector = SileroDetector()
    frames = to_pcm(np.concatenate([machine, quiet]))
    found = [
        detector(frames[at : at + FRAME_BYTES]) >= 0.5
        for at in range(0, len(frames) - FRAME_BYTES + 1, FRAME_BYTES)
    ]
    assert sum(found[10 * RATE // 512 :]) >= 15
