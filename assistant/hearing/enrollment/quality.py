"""Whether a take can be used, and if not, why."""

from __future__ import annotations

from typing import Final

import numpy as np

from assistant.errors import BadInput
from assistant.hearing.enrollment.spectrum import HOP, take_of
from assistant.hearing.noise import FULL_SCALE, from_pcm

_CLIPPED_SHARE: Final = 0.001
_LEAST_DBFS: Final = -60.0
_LEAST_SNR_DB: Final = 10.0
_LEAST_FRAMES: Final = 8
"""Under 80 ms nothing was said (common practice, no source; so the three figures above)."""


def fault_of(pcm: bytes) -> str:
    """Why a take can't be used: overdriven, too quiet, cut, too noisy; "" when it can.

    Args:
        pcm: 16 kHz mono s16le.
    """
    samples = from_pcm(pcm)
    try:
        take = take_of(samples)
    except BadInput:
        return "nothing stands out of the room; say it closer to the microphone"
    if float(np.mean(np.abs(samples) >= 1 - 2 / FULL_SCALE)) > _CLIPPED_SHARE:
        return "overdriven; turn the microphone down or move it away"
    spoken = samples[take.first * HOP : take.last * HOP]
    level = 10 * np.log10(np.mean(spoken**2) + 1e-12)
    if level < _LEAST_DBFS:
        return f"too quiet ({level:.0f} dBFS); move the microphone closer"
    if take.last - take.first < _LEAST_FRAMES:
        return "too short; say the whole phrase"
    if take.first <= 0 and take.last >= len(take.power):
        return "cut; wait a moment before and after the phrase"
    speech = take.power[take.first : take.last].sum(axis=1).mean()
    snr = 10 * np.log10(speech / take.room.sum())
    return f"too noisy ({snr:.0f} dB over the room)" if snr < _LEAST_SNR_DB else ""
