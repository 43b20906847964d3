"""The room that rehearsals speak into."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from assistant.errors import BadInput
from assistant.hearing.noise import active_level_db, from_pcm
from assistant.hearing.room import Room
from assistant.hearing.source import FRAME_BYTES, RATE
from tests.hearing.clips import clip


def _sound(room: Room, frames: int) -> np.ndarray:
    return from_pcm(b"".join(itertools.islice(room.frames(), frames)))


def test_line_stands_above_the_noise_as_asked() -> None:
    """Speech of -23 dB at 15 dB over pink noise leaves the noise at -38 dB (arithmetic)."""
    noise = _sound(Room("pink", 15.0), 300)
    assert 10 * np.log10(np.mean(noise**2)) == pytest.approx(-38.0, abs=0.5)


def test_line_is_brought_to_its_level() -> None:
    """A line of any loudness is spoken at the same active speech level."""
    room = Room()
    room.speak(clip("step complete"), after_s=0.5)
    assert active_level_db(_sound(room, 80), RATE) == pytest.approx(-23.0, abs=0.2)


def test_lines_follow_each_other_without_a_gap() -> None:
    """Two lines are both spoken whole, then the room is alone again."""
    room = Room()
    line = clip("step complete")
    room.speak(line)
    room.speak(line)
    frames = 0
    for frame in room.frames():
        assert len(frame) == FRAME_BYTES
        if not room.speaking:
            break
        frames += 1
    assert frames * FRAME_BYTES == pytest.approx(2 * len(line), abs=3 * FRAME_BYTES)


def test_same_seed_is_the_same_room() -> None:
    """A rehearsal repeats itself exactly."""
    assert np.array_equal(
        _sound(Room("pink", 10.0, seed=5), 20), _sound(Room("pink", 10.0, seed=5), 20)
    )
    assert not np.array_equal(
        _sound(Room("pink", 10.0, seed=5), 20), _sound(Room("pink", 10.0, seed=6), 20)
    )


def test_unknown_noise_and_silent_line_are_refused() -> None:
    """A noise that is not there and a line without sound are bad input, named."""
    with pytest.raises(BadInput, match="thunder"):
        Room("thunder", 10.0)
    with pytest.raises(BadInput):
        Room().speak(bytes(32_000))


def test_closed_room_is_over() -> None:
    """A closed room gives no more frames."""
    room = Room()
    room.close()
    assert list(room.frames()) == []
