"""Other microphones, imitated by filtering.

Curves are magnitudes of Butterworth filters without any delay, over the sound and its noise alike:
what the noise was to the speech in the room, it is before the filter.

    telephone  300 to 3,400 Hz, the pass band of a telephone channel (ITU-T G.712, from memory),
               24 dB an octave below and 48 dB above
    headset    a small boom microphone: 200 Hz to 6 kHz, 12 dB an octave below and 24 dB above
               (common practice, no source)
"""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

import numpy as np

from assistant.hearing.noise import Samples
from assistant.hearing.source import RATE


@dataclass(frozen=True, slots=True)
class Curve:
    """A band pass: 3 dB down at both edges, each order 6 dB an octave."""

    low_hz: float
    low_order: int
    high_hz: float
    high_order: int

    def gain(self, hz: np.ndarray) -> np.ndarray:
        """Magnitude at these frequencies, 0 to 1."""
        below = (self.low_hz / np.maximum(hz, 1e-3)) ** (2 * self.low_order)
        above = (hz / self.high_hz) ** (2 * self.high_order)
        return np.asarray(1 / np.sqrt((1 + below) * (1 + above)))


MICROPHONES: Final = MappingProxyType(
    {"telephone": Curve(300, 4, 3400, 8), "headset": Curve(200, 2, 6000, 4)}
)


def through(samples: Samples, microphone: str) -> Samples:
    """The sound as this microphone gives it; as it is for "".

    The sound is taken as one period: right for what is looped, and for a clip with quiet ends.
    """
    if not microphone:
        return samples
    spectrum = np.fft.rfft(samples)
    gain = MICROPHONES[microphone].gain(np.fft.rfftfreq(len(samples), 1 / RATE))
    return np.asarray(np.fft.irfft(spectrum * gain, len(samples)))
