"""Microphones imitated by filtering."""

from __future__ import annotations

import numpy as np
import pytest

from assistant.hearing.source import RATE
from assistant.trial.microphones import MICROPHONES, through
from tests.trial.clips import tone


def _rms_db(samples: np.ndarray) -> float:
    return 10 * float(np.log10(np.mean(samples**2)))


@pytest.mark.parametrize("name", MICROPHONES)
def test_the_curve_is_that_of_butterworth_filters(name: str) -> None:
    """Half power at both edges, then 6 dB an octave and order (S. Butterworth, 1930; from memory).

    Each filter's square is 1 / (1 + x ** (2 * order)).
    """
    curve = MICROPHONES[name]
    low, high = curve.low_hz, curve.high_hz
    edges = curve.gain(np.array([low, high])) ** 2
    assert edges == pytest.approx([0.5, 0.5], rel=0.02)
    below = curve.gain(np.array([low / 8, low / 16]))
    assert 20 * np.log10(below[0] / below[1]) == pytest.approx(6.02 * curve.low_order, abs=0.1)
    above = curve.gain(np.array([high * 8, high * 16]))
    assert 20 * np.log10(above[0] / above[1]) == pytest.approx(6.02 * curve.high_order, abs=0.1)


def test_a_telephone_passes_its_band_and_little_else() -> None:
    """A tone of 1 kHz stays as it is; 100 Hz and 6 kHz are down by their orders."""
    whole = tone(1.0, hertz=1000)
    assert through(whole, "telephone") == pytest.approx(whole, abs=1e-3)
    for hertz, least_db in ((100, 36), (6000, 38)):
        sound = tone(1.0, hertz=hertz)
        assert _rms_db(sound) - _rms_db(through(sound, "telephone")) > least_db


def test_no_microphone_changes_nothing() -> None:
    """The clip's own microphone is left alone."""
    whole = tone(0.1)
    assert through(whole, "") is whole


def test_length_stays_odd_or_even() -> None:
    """A clip is as long as before, whatever its length."""
    for length in (RATE, RATE + 1):
        assert len(through(np.zeros(length), "headset")) == length
