"""A room without a microphone: steady noise into which lines are spoken.

The rehearsal and the measurements use it as their `Source`, so that what they say goes through
the same hearing path as a live microphone.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Iterator
from typing import Final, Literal

import numpy as np

from assistant.hearing.source import (
    FRAME_BYTES,
    FRAME_S,
    FRAME_SAMPLES,
    RATE,
    to_pcm,
    to_samples,
)

NoiseKind = Literal["quiet", "white", "pink"]

QUIET_DBFS: Final = -75.0
"""Level of a room without noise: faint enough for any voice, but not digital silence."""

_LOOP_S: Final = 20
_ACTIVE_DB: Final = 20.0


def coloured_noise(kind: NoiseKind, samples: int, seed: int) -> np.ndarray:
    """Noise of unit power: white, or pink with power falling as 1/f between 20 Hz and 8 kHz."""
    white = np.random.default_rng(seed).normal(size=samples)
    if kind != "pink":
        return white
    spectrum = np.fft.rfft(white)
    hertz = np.fft.rfftfreq(samples, 1 / RATE)
    spectrum *= np.where(hertz >= 20, 1 / np.sqrt(np.maximum(hertz, 20)), 0)
    shaped = np.fft.irfft(spectrum, samples)
    return np.asarray(shaped / np.sqrt(np.mean(shaped**2)))


def active_power(samples: np.ndarray) -> float:
    """Mean power of the frames within 20 dB of the loudest: speech without its pauses."""
    whole = len(samples) // FRAME_SAMPLES * FRAME_SAMPLES
    if whole == 0:
        return float(np.mean(samples**2)) if len(samples) else 0.0
    powers = np.mean(samples[:whole].reshape(-1, FRAME_SAMPLES) ** 2, axis=1)
    loud = powers[powers >= powers.max() * 10 ** (-_ACTIVE_DB / 10)]
    return float(np.mean(loud))


class Room:
    """A source of steady noise into which lines are spoken.

    Args:
        noise: its kind.
        snr_db: how far a line's active speech stands above the noise; None for a quiet room.
        speech_dbfs: level that every line's active speech is brought to.
        seed: of the noise.
        realtime: let time pass as in a real room.
    """

    def __init__(
        self,
        noise: NoiseKind = "quiet",
        snr_db: float | None = None,
        *,
        speech_dbfs: float = -23.0,
        seed: int = 1,
        realtime: bool = False,
    ) -> None:
        level = QUIET_DBFS if snr_db is None else speech_dbfs - snr_db
        kind: NoiseKind = "white" if snr_db is None or noise == "quiet" else noise
        self._noise = coloured_noise(kind, _LOOP_S * RATE, seed) * 10 ** (level / 20)
        self._noise_at = 0
        self._speech_power = 10 ** (speech_dbfs / 10)
        self._lines: deque[np.ndarray] = deque()
        self._realtime = realtime
        self._due: float | None = None
        self._open = True
        self.lost = False
        self.dropped = 0

    def speak(self, pcm: bytes, after_s: float = 0.0) -> None:
        """Say a line, 16 kHz mono s16le, after this many seconds of the room alone."""
        samples = to_samples(pcm)
        power = active_power(samples)
        if power > 0:
            samples = samples * np.sqrt(self._speech_power / power)
        pause = np.zeros(round(after_s * RATE))
        line = np.concatenate([pause, samples])
        short = -len(line) % FRAME_SAMPLES
        line = np.concatenate([line, np.zeros(short)])
        self._lines.extend(line.reshape(-1, FRAME_SAMPLES))

    @property
    def speaking(self) -> bool:
        """Whether a line is still being said."""
        return bool(self._lines)

    def frames(self) -> Iterator[bytes]:
        """Frames of the room, without end until it is closed."""
        while self._open:
            self._pace()
            noise = self._noise[self._noise_at : self._noise_at + FRAME_SAMPLES]
            self._noise_at = (self._noise_at + FRAME_SAMPLES) % (len(self._noise) - FRAME_SAMPLES)
            spoken = self._lines.popleft() if self._lines else 0.0
            frame = to_pcm(noise + spoken)
            yield frame.ljust(FRAME_BYTES, b"\0")

    def _pace(self) -> None:
        if not self._realtime:
            return
        now = time.monotonic()
        self._due = now if self._due is None else max(self._due + FRAME_S, now - 1.0)
        if self._due > now:
            time.sleep(self._due - now)

    def discard(self) -> None:
        """Nothing is queued: the room's sound is made when it is asked for."""

    def deafen(self, deaf: bool) -> None:
        """Nothing is queued: the room's sound is made when it is asked for."""

    def close(self) -> None:
        """End the frames."""
        self._open = False
