"""What a place sounds like: the figures of a soundcheck, from frames and utterances."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from statistics import median
from typing import Final

import numpy as np

from assistant.errors import BadInput
from assistant.hearing.level import FULL_SCALE, measure
from assistant.hearing.noise import active_level_db, from_pcm
from assistant.hearing.source import FRAME_S, FRAME_SAMPLES, RATE, Source

_HOLE_SAMPLES: Final = RATE // 100
"""So many exact zeros in a row, 10 ms, do not happen in sound: something was lost there."""

_CLIPPED_SAMPLES: Final = 3
"""Samples at full scale in an utterance that make it overdriven; one alone may be a peak."""

_SILENT_DBFS: Final = -95.0
_AROUND_S: Final = 0.6
"""Kept out of the room's noise before and after an utterance: breath and decay."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One utterance.

    Attributes:
        wanted: the phrase that was asked for, "" when nobody asked.
        heard: the engine's words.
        understood: whether it was accepted, and as what was wanted.
        began_s, ended_s: in seconds of sound.
        level_dbfs: its active level (ITU-T P.56), None when too faint to have one.
        clipped: whether it was overdriven.
    """

    wanted: str
    heard: str
    understood: bool
    began_s: float
    ended_s: float
    level_dbfs: float | None
    clipped: bool


@dataclass(frozen=True, slots=True)
class Measured:
    """The figures of a place.

    Attributes:
        seconds: of sound that was looked at.
        noise_dbfs: mean level of the room without speech; None when there was none.
        loudest_dbfs: its loudest second.
        speech_dbfs: median active level of what was said, less the noise; None without speech.
        clipped: utterances that were overdriven.
        dropouts: holes in the sound, and times that the device said it lost some.
        dead: whether there was nothing but zeros.
        tried: the utterances.
    """

    seconds: float
    noise_dbfs: float | None
    loudest_dbfs: float | None
    speech_dbfs: float | None
    clipped: int
    dropouts: int
    dead: bool
    tried: tuple[Tried, ...]

    @property
    def snr_db(self) -> float | None:
        """Speech over noise, in dB; None when either is missing."""
        if self.speech_dbfs is None or self.noise_dbfs is None:
            return None
        return self.speech_dbfs - self.noise_dbfs

    @property
    def understood(self) -> int:
        """How many utterances were understood."""
        return sum(one.understood for one in self.tried)


class Holes:
    """Counts stretches of exact zeros between sound and sound.

    Attributes:
        count: so far.
    """

    def __init__(self) -> None:
        self.count = 0
        self._zeros: int | None = None  # since the last sound; None before the first

    def take(self, frame: bytes) -> None:
        """Take the next frame."""
        samples = np.frombuffer(frame, dtype="<i2")
        sounding = np.flatnonzero(samples)
        if not len(sounding):
            self._zeros = None if self._zeros is None else self._zeros + len(samples)
            return
        gaps = np.diff(sounding) - 1
        self.count += int(np.count_nonzero(gaps >= _HOLE_SAMPLES))
        if self._zeros is not None and self._zeros + int(sounding[0]) >= _HOLE_SAMPLES:
            self.count += 1
        self._zeros = len(samples) - 1 - int(sounding[-1])


@dataclass
class Meter:
    """A source that takes the level of every frame that goes through it."""

    source: Source
    levels: list[float] = field(default_factory=list)
    holes: Holes = field(default_factory=Holes)

    def frames(self) -> Iterator[bytes]:
        """See `Source`."""
        for frame in self.source.frames():
            if frame:
                self.levels.append(measure(frame).dbfs)
                self.holes.take(frame)
            yield frame

    def discard(self) -> None:
        """See `Source`."""
        self.source.discard()

    def deafen(self, deaf: bool) -> None:
        """See `Source`."""
        self.source.deafen(deaf)

    def close(self) -> None:
        """See `Source`."""
        self.source.close()

    @property
    def lost(self) -> bool:
        """See `Source`."""
        return self.source.lost

    @property
    def waiting_s(self) -> float:
        """See `Source`."""
        return self.source.waiting_s

    @property
    def dropped(self) -> int:
        """See `Source`."""
        return self.source.dropped


def level_of(clip: bytes) -> float | None:
    """Active level in dBFS, None when the clip is too faint to have one."""
    try:
        return active_level_db(from_pcm(clip), RATE)
    except BadInput:
        return None


def is_clipped(clip: bytes) -> bool:
    """Whether it reaches full scale more than a peak does."""
    samples = np.frombuffer(clip, dtype="<i2").astype(np.int32)
    return int(np.count_nonzero(np.abs(samples) >= FULL_SCALE)) >= _CLIPPED_SAMPLES


def summed_up(meter: Meter, tried: Sequence[Tried]) -> Measured:
    """The figures of what went through the meter."""
    levels = np.array(meter.levels)
    room = np.ones(len(levels), dtype=bool)
    for one in tried:
        first = max(0, round((one.began_s - _AROUND_S) / FRAME_S))
        room[first : round((one.ended_s + _AROUND_S) / FRAME_S)] = False
    quiet = 10 ** (levels[room] / 10)
    noise = 10 * math.log10(float(np.mean(quiet))) if len(quiet) else None
    spoken = [one.level_dbfs for one in tried if one.level_dbfs is not None]
    return Measured(
        seconds=round(len(levels) * FRAME_S, 1),
        noise_dbfs=noise,
        loudest_dbfs=_loudest(quiet),
        speech_dbfs=_less(median(spoken), noise) if spoken else None,
        clipped=sum(one.clipped for one in tried),
        dropouts=meter.holes.count + meter.dropped,
        dead=len(levels) > 0 and float(np.max(levels)) <= _SILENT_DBFS,
        tried=tuple(tried),
    )


def _loudest(powers: np.ndarray[tuple[int], np.dtype[np.float64]]) -> float | None:
    """Level of the loudest second."""
    second = RATE // FRAME_SAMPLES
    if len(powers) < second:
        return None
    means = np.convolve(powers, np.ones(second) / second, mode="valid")
    return 10 * math.log10(float(np.max(means)))


def _less(level_dbfs: float, noise_dbfs: float | None) -> float:
    """Speech alone; at least 30 dB under the noise, for less can't be told from nothing."""
    if noise_dbfs is None:
        return level_dbfs
    noise = 10 ** (noise_dbfs / 10)
    return 10 * math.log10(max(10 ** (level_dbfs / 10) - noise, noise * 1e-3))
