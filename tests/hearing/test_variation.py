"""The same utterance a little otherwise."""

from __future__ import annotations

import numpy as np
import pytest

from assistant.hearing.engines.variation import stretched, with_floor
from assistant.hearing.noise import active_level_db, from_pcm, to_pcm
from tests.hearing.clips import clip

RATE = 16_000


def _tone(hertz: float) -> bytes:
    return to_pcm(0.3 * np.sin(2 * np.pi * hertz * np.arange(RATE) / RATE))


def test_slower_is_longer_and_lower() -> None:
    """At a pace of 1.05 a second of 1 kHz lasts 1.05 s at 1 kHz / 1.05 (arithmetic)."""
    samples = from_pcm(stretched(_tone(1_000.0), 1.05))
    assert len(samples) == pytest.approx(RATE * 1.05, abs=1)
    peak = np.argmax(np.abs(np.fft.rfft(samples))) * RATE / len(samples)
    assert peak == pytest.approx(1_000 / 1.05, abs=2)


def test_own_pace_changes_nothing() -> None:
    """A pace of one gives the same bytes."""
    assert stretched(_tone(700.0), 1.0) == _tone(700.0)


def test_floor_lies_so_far_under_the_speech() -> None:
    """The noise that is added lies 27 dB under the active speech level."""
    said = clip("step complete")
    added = from_pcm(with_floor(said, 27.0, seed=1)) - from_pcm(said)
    level = 10 * np.log10(np.mean(added**2))
    assert level == pytest.approx(active_level_db(from_pcm(said), RATE) - 27.0, abs=0.2)


def test_silence_gets_no_floor() -> None:
    """Sound without speech has no speech level, and comes back as it is."""
    assert with_floor(bytes(3_200), 27.0, seed=1) == bytes(3_200)
