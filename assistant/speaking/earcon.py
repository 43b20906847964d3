"""Two short soft sounds that answer faster than words: heard, and not heard.

They differ in direction and in pitch and lie well below 2 kHz, so that one can tell them apart
behind hearing protection and with ears that have lost the high notes (common practice, no source).
"""

from __future__ import annotations

import numpy as np

from assistant.speaking.speech import Speech, join

RATE = 22_050
_PEAK = 4_500.0  # of 32,767: about 17 dB below full scale, softer than the voice
_EDGE_S = 0.012  # each tone rises and falls this long, so that it doesn't click

_HEARD = ((660.0, 0.06), (990.0, 0.08))  # Hz and seconds: a fifth up
_NOT_HEARD = ((440.0, 0.10), (330.0, 0.14))  # a fourth down, lower and longer


def heard(rate: int = RATE) -> Speech:
    """Return the sound for "heard": two rising tones, 0.14 s."""
    return join([_tone(hertz, seconds, rate) for hertz, seconds in _HEARD])


def not_heard(rate: int = RATE) -> Speech:
    """Return the sound for "not heard": two falling tones, 0.24 s."""
    return join([_tone(hertz, seconds, rate) for hertz, seconds in _NOT_HEARD])


def _tone(hertz: float, seconds: float, rate: int) -> Speech:
    """Return a sine with half a cosine at each end."""
    time = np.arange(round(seconds * rate)) / rate
    from_end = np.minimum(time, seconds - time)
    swell = np.sin(np.pi / 2 * np.clip(from_end / _EDGE_S, 0.0, 1.0)) ** 2
    return Speech.from_samples(_PEAK * swell * np.sin(2 * np.pi * hertz * time), rate)
