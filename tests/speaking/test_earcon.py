"""The two short sounds are soft, brief, and differ as they should."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from assistant.speaking import earcon
from assistant.speaking.speech import Speech


def _pitch(samples: np.ndarray[tuple[int], np.dtype[np.int16]], rate: int) -> float:
    """The strongest frequency in Hz."""
    spectrum = np.abs(np.fft.rfft(samples, 1 << 16))
    return float(np.argmax(spectrum) * rate / (1 << 16))


@pytest.mark.parametrize(
    ("make", "first_s", "low", "high"),
    [(earcon.heard, 0.06, 660, 990), (earcon.not_heard, 0.10, 440, 330)],
)
@pytest.mark.parametrize("rate", [16_000, 22_050, 48_000])
def test_the_tones_have_their_pitch(
    make: Callable[[int], Speech], first_s: float, low: float, high: float, rate: int
) -> None:
    """A Fourier transform finds the two tones in their order at any rate."""
    samples = make(rate).samples
    split = round(first_s * rate)
    assert _pitch(samples[:split], rate) == pytest.approx(low, rel=0.03)
    assert _pitch(samples[split:], rate) == pytest.approx(high, rel=0.03)


@pytest.mark.parametrize("make", [earcon.heard, earcon.not_heard])
def test_they_are_soft_short_and_begin_and_end_in_silence(make: Callable[[], Speech]) -> None:
    """Below the voice's level, under 0.3 s, without a click at either end."""
    sound = make()
    samples = np.abs(sound.samples.astype(int))
    assert sound.seconds < 0.3
    assert 2_000 < samples.max() < 6_000
    assert samples[:3].max() < 100
    assert samples[-3:].max() < 100
    assert np.abs(np.diff(sound.samples.astype(int))).max() < 2_000
