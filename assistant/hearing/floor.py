"""The room's noise while people talk in it: the least power of the last seconds.

Speech has gaps, noise has not: the least short-time power of a window longer than a phrase is the
noise's, lifted by how far a minimum lies under the mean. After R. Martin, "Noise power spectral
density estimation based on optimal smoothing and minimum statistics", IEEE Trans. Speech and Audio
Processing 9(5), 2001; here for the whole band at once, with a fixed smoothing and a fixed bias.

The voice-activity model is not asked: a grinder that it takes for a voice is noise all the same.
"""

from __future__ import annotations

import math
from collections import deque
from typing import Final

_SMOOTHING: Final = 0.6
"""Share of the old power kept a frame: 63 ms of memory, so that a gap between words shows."""

_PART_FRAMES: Final = 8
_PARTS: Final = 20
"""The window: twenty parts of a quarter of a second. Martin's is 1.5 s, but a long reading or a
read-back lasts up to 4 s with hardly a gap, and must not become its own noise."""

_BIAS_DB: Final = 1.3
"""How far the minimum lies under the mean: measured with `python -m tests.hearing.bench_floor` as
the median over pink, white, brown and engine noise and the recordings of machines."""

SILENCE_DBFS: Final = -100.0


class NoiseFloor:
    """Follows the noise, frame by frame; a rise is believed after one window, a fall at once."""

    def __init__(self) -> None:
        self._smooth: float | None = None
        self._least = math.inf
        self._count = 0
        self._parts: deque[float] = deque(maxlen=_PARTS - 1)

    @property
    def dbfs(self) -> float | None:
        """The noise's level in dB under full scale; None before the first frame."""
        least = min(self._least, *self._parts, math.inf)
        if math.isinf(least):
            return None
        return max(SILENCE_DBFS, 10 * math.log10(max(least, 1e-12)) + _BIAS_DB)

    def take(self, dbfs: float) -> None:
        """Take the next frame's level, speech or not."""
        power = 10 ** (dbfs / 10)
        self._smooth = (
            power if self._smooth is None else _SMOOTHING * self._smooth + (1 - _SMOOTHING) * power
        )
        self._least = min(self._least, self._smooth)
        self._count += 1
        if self._count == _PART_FRAMES:
            self._parts.append(self._least)
            self._least = math.inf
            self._count = 0
