"""Levels against the arithmetic of sines and powers."""

from __future__ import annotations

import numpy as np
import pytest

from assistant.hearing.level import Level, LevelWatch, measure
from assistant.hearing.source import FRAME_BYTES, FRAME_SAMPLES


def _sine(amplitude: float) -> bytes:
    # 16 whole periods in a frame, so that its power is exact.
    wave = amplitude * np.sin(2 * np.pi * 16 * np.arange(FRAME_SAMPLES) / FRAME_SAMPLES)
    return np.round(wave).astype("<i2").tobytes()


def test_sine_at_full_scale() -> None:
    """A full-scale sine lies 3.01 dB below a full-scale square wave: power 1/2 (arithmetic)."""
    assert measure(_sine(32_767)).dbfs == pytest.approx(-3.01, abs=0.01)


def test_tenth_of_the_amplitude_is_twenty_db_less() -> None:
    """A tenth of the amplitude is 20 dB less (definition of the decibel)."""
    assert measure(_sine(3_276.7)).dbfs == pytest.approx(-23.01, abs=0.01)


def test_zeros_and_nothing_have_the_floor() -> None:
    """Digital silence has a floor instead of minus infinity."""
    assert measure(bytes(FRAME_BYTES)) == Level(-100.0, 0)
    assert measure(b"") == Level(-100.0, 0)


def test_full_scale_samples_are_counted() -> None:
    """Samples at either end of the range count as clipped."""
    frame = np.array([32_767, -32_768, -32_767, 32_766, 0], dtype="<i2").tobytes()
    assert measure(frame).clipped == 3


def test_signal_to_noise_of_known_powers() -> None:
    """Speech and room together at -20 dB over a room of -30 dB: the speech alone is 9.5 dB over.

    10·log10((0.01 - 0.001) / 0.001) = 9.54 (arithmetic).
    """
    watch = LevelWatch()
    for _ in range(50):
        watch.room(Level(-30.0, 0))
    watch.begin()
    for _ in range(10):
        watch.speech(Level(-20.0, 0))
    assert watch.snr_db() == pytest.approx(9.54, abs=0.01)


def test_gaps_in_the_noise_take_nothing_from_speech() -> None:
    """Frames under the noise count as no speech, not as less than none.

    Half the frames at -20 dB over a room of -30 dB, half at -60: half the power of the example
    above, 10·log10(9 / 2) = 6.53 dB (arithmetic).
    """
    watch = LevelWatch()
    for _ in range(50):
        watch.room(Level(-30.0, 0))
    watch.begin()
    for _ in range(10):
        watch.speech(Level(-20.0, 0))
        watch.speech(Level(-60.0, 0))
    assert watch.snr_db() == pytest.approx(6.53, abs=0.01)


def test_signal_to_noise_needs_both() -> None:
    """Without a measured room or without speech there is no ratio."""
    watch = LevelWatch()
    assert watch.snr_db() is None
    watch.room(Level(-60.0, 0))
    assert watch.snr_db() is None


def test_dead_microphone_needs_three_seconds() -> None:
    """Zeros for less than three seconds are a pause, for longer a dead microphone."""
    watch = LevelWatch()
    for _ in range(90):
        watch.life(Level(-100.0, 0))
    assert not watch.dead
    for _ in range(10):
        watch.life(Level(-100.0, 0))
    assert watch.dead
    watch.life(Level(-80.0, 0))
    assert not watch.dead


def test_one_loud_knock_is_not_clipping() -> None:
    """Two overdriven frames are a knock, three an overdriven utterance; the next starts anew."""
    watch = LevelWatch()
    watch.begin()
    watch.speech(Level(0.0, 40))
    watch.speech(Level(0.0, 40))
    assert not watch.clipping
    watch.speech(Level(0.0, 40))
    assert watch.clipping
    watch.begin()
    assert not watch.clipping


def test_the_first_sounds_of_quick_utterances_are_no_room() -> None:
    """Said again and again with hardly a pause, an utterance does not become its own noise."""
    watch = LevelWatch()
    for _ in range(40):
        watch.room(Level(-60.0, 0))
    for _ in range(10):
        for _ in range(3):
            watch.room(Level(-60.0, 0))
        for _ in range(5):  # voice, but not yet known as such
            watch.room(Level(-20.0, 0))
        watch.begin()
        for _ in range(20):
            watch.speech(Level(-20.0, 0))
    assert watch.noise_dbfs is not None
    assert watch.noise_dbfs < -55
