"""Speech as a value: mono 16-bit samples and their rate; trimming, joining, changing the rate."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, gcd
from typing import TYPE_CHECKING, Self

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

if TYPE_CHECKING:
    from numpy.typing import NDArray

HEARING_RATE = 16_000
"""Rate in Hz of all audio that is heard or kept in a record."""

_QUIET = 50  # of 32,767, -56 dB: below the hiss of any voice here, above a converter's idle noise
_CROSSINGS = 16  # sinc lobes on each side: the passband is flat to about 0.9 of the lower Nyquist
_BETA = 9.0  # Kaiser window: aliases at least 80 dB down


@dataclass(frozen=True, slots=True)
class Speech:
    """Sound to be played or stored.

    Attributes:
        pcm: samples, mono, signed 16 bit, little-endian.
        rate: samples per second, in Hz.

    Raises:
        ValueError: `pcm` holds half a sample, or `rate` is not positive.
    """

    pcm: bytes
    rate: int

    def __post_init__(self) -> None:
        if len(self.pcm) % 2:
            raise ValueError(f"{len(self.pcm)} bytes are not whole 16-bit samples")
        if self.rate <= 0:
            raise ValueError(f"a rate of {self.rate} Hz is not possible")

    @classmethod
    def from_samples(cls, samples: NDArray[np.floating], rate: int) -> Self:
        """Make speech of samples in -32768..32767 (shape (n,)); beyond that they are clipped."""
        whole = np.clip(np.rint(samples), -32_768, 32_767).astype("<i2")
        return cls(whole.tobytes(), rate)

    @classmethod
    def silence(cls, seconds: float, rate: int) -> Self:
        """Make silence of this length."""
        return cls(bytes(2 * round(seconds * rate)), rate)

    @property
    def samples(self) -> NDArray[np.int16]:
        """The samples, shape (n,)."""
        return np.frombuffer(self.pcm, dtype="<i2")

    @property
    def seconds(self) -> float:
        """How long it lasts."""
        return len(self.pcm) / 2 / self.rate

    def until(self, seconds: float) -> Speech:
        """Return what sounds before this moment."""
        return Speech(self.pcm[: 2 * max(0, round(seconds * self.rate))], self.rate)

    def trimmed(self, before_s: float = 0.02, after_s: float = 0.08) -> Speech:
        """Return it without the silence around it, but for a short margin.

        Voices end with up to half a second of silence, in which the microphone would stay gated.
        """
        loud = np.flatnonzero(np.abs(self.samples.astype(np.int32)) > _QUIET)
        if not len(loud):
            return self
        first = max(0, int(loud[0]) - round(before_s * self.rate))
        last = int(loud[-1]) + 1 + round(after_s * self.rate)
        return Speech(self.pcm[2 * first : 2 * last], self.rate)

    def at_rate(self, rate: int) -> Speech:
        """Return the same sound at another rate in Hz; the length changes by under one sample.

        A windowed-sinc filter in its polyphase form: unlike linear interpolation it keeps hiss
        above the new Nyquist frequency from folding down on to the speech, and unlike the
        conversion of a sound server it is the same on every machine, so that a rehearsal is too.
        """
        if rate == self.rate or not self.pcm:
            return Speech(self.pcm, rate)
        return Speech.from_samples(_resample(self.samples, self.rate, rate), rate)


def join(parts: Sequence[Speech], pause_s: float = 0.0) -> Speech:
    """Return the parts one after another, with silence between them.

    Args:
        parts: at least one; all are brought to the rate of the first.
        pause_s: seconds of silence between two parts.

    Raises:
        ValueError: no parts.
    """
    if not parts:
        raise ValueError("nothing to join")
    rate = parts[0].rate
    pause = Speech.silence(pause_s, rate).pcm
    return Speech(pause.join(part.at_rate(rate).pcm for part in parts), rate)


@lru_cache(maxsize=16)
def _filter(up: int, down: int) -> NDArray[np.float64]:
    """Return the filter by phase, shape (up, taps): a Kaiser-windowed sinc of unit gain.

    The form is the textbook one (Oppenheim and Schafer, Discrete-Time Signal Processing, chapters
    on multirate processing and Kaiser's window; from memory).
    """
    cutoff = min(1.0, up / down) * 0.95  # in units of the input's Nyquist frequency
    half = ceil(_CROSSINGS / cutoff)
    at = np.arange(-half + 1, half + 1)  # input samples around the output's place
    shift = np.arange(up)[:, np.newaxis] / up  # where the output lies between two inputs
    distance = at - shift
    window = np.i0(_BETA * np.sqrt(np.maximum(0.0, 1 - (distance / half) ** 2))) / np.i0(_BETA)
    taps = cutoff * np.sinc(cutoff * distance) * window
    scaled: NDArray[np.float64] = taps / taps.sum(axis=1, keepdims=True)
    return scaled


def _resample(samples: NDArray[np.int16], old: int, new: int) -> NDArray[np.float64]:
    """Return the samples at another rate; output k lies at the time k / new seconds."""
    common = gcd(old, new)
    up, down = new // common, old // common
    by_phase = _filter(up, down)
    half = by_phase.shape[1] // 2
    count = ceil(len(samples) * up / down)
    padded = np.concatenate((np.zeros(half - 1), samples, np.zeros(half + down)))
    windows = sliding_window_view(padded, by_phase.shape[1])
    out = np.empty(count)
    for first in range(min(up, count)):  # outputs first, first + up, ... share one phase
        whole, phase = divmod(first * down, up)
        wanted = len(range(first, count, up))
        out[first::up] = windows[whole : whole + wanted * down : down] @ by_phase[phase]
    return out
