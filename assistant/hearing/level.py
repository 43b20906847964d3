"""How loud it is: level, clipping, a dead microphone, and signal against the room's noise."""

from __future__ import annotations

import math
from collections import deque
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from assistant.hearing.floor import SILENCE_DBFS, NoiseFloor
from assistant.hearing.source import FRAME_S

FULL_SCALE: Final = 32_767
_FLOOR_DBFS: Final = -100.0
_DEAD_AFTER_S: Final = 3.0
_CLIPPED_FRAMES: Final = 3
_ROOM_FRAMES: Final = 32
"""The room's level is the mean over its last second without speech."""
_BEFORE_VOICE: Final = 8
"""Frames just before an utterance that don't count as room: its first sounds, not yet known as
voice. Short utterances one after another would otherwise make the room as loud as the voice."""


@dataclass(frozen=True, slots=True)
class Level:
    """One frame: power relative to full scale in dB, and samples at full scale."""

    dbfs: float
    clipped: int


def measure(frame: bytes) -> Level:
    """The level of one frame of s16le samples."""
    samples = np.frombuffer(frame, dtype="<i2").astype(np.int32)
    if not len(samples):
        return Level(_FLOOR_DBFS, 0)
    power = float(np.mean(np.square(samples.astype(np.float64)))) / FULL_SCALE**2
    dbfs = 10 * math.log10(power) if power > 0 else _FLOOR_DBFS
    return Level(max(dbfs, _FLOOR_DBFS), int(np.count_nonzero(np.abs(samples) >= FULL_SCALE)))


@dataclass
class LevelWatch:
    """Follows the room's noise and notices a dead or overdriven microphone.

    Attributes:
        dead: exact zeros only, for three seconds or more: muted, or not really connected.
    """

    dead: bool = False
    _between: deque[float] = field(default_factory=lambda: deque(maxlen=_ROOM_FRAMES))
    _newest: deque[float] = field(default_factory=deque)
    _floor: NoiseFloor = field(default_factory=NoiseFloor)
    _zeros_s: float = 0.0
    _speech: list[float] = field(default_factory=list)
    _beneath: float = SILENCE_DBFS
    _clipped: int = 0

    @property
    def noise_dbfs(self) -> float | None:
        """Level of the room's noise, None before anything was measured.

        Its mean between utterances, or the floor under everything where that is higher: a machine
        that started within an utterance, or that is taken for a voice.
        """
        floor = self._floor.dbfs
        if not self._between:
            return floor
        mean = 10 * math.log10(sum(self._between) / len(self._between))
        return mean if floor is None else max(mean, floor)

    def room(self, level: Level) -> None:
        """Take a frame that holds no speech."""
        self._newest.append(10 ** (level.dbfs / 10))
        if len(self._newest) > _BEFORE_VOICE:
            self._between.append(self._newest.popleft())

    def life(self, level: Level) -> None:
        """Take any frame, speech or not: for the noise's floor, and to notice a dead microphone."""
        self._floor.take(level.dbfs)
        self._zeros_s = self._zeros_s + FRAME_S if level.dbfs <= _FLOOR_DBFS else 0.0
        self.dead = self._zeros_s >= _DEAD_AFTER_S

    def begin(self) -> None:
        """An utterance begins."""
        self._newest.clear()
        self._speech = []
        self._beneath = SILENCE_DBFS
        self._clipped = 0

    def speech(self, level: Level) -> None:
        """Take a frame of the utterance that holds speech."""
        self._speech.append(level.dbfs)
        if self._floor.dbfs is not None:
            self._beneath = max(self._beneath, self._floor.dbfs)
        self._clipped += level.clipped > 1

    @property
    def clipping(self) -> bool:
        """Whether the utterance was overdriven: full scale in three frames or more."""
        return self._clipped >= _CLIPPED_FRAMES

    def snr_db(self) -> float | None:
        """Speech against the room in dB, or None when either was not measured.

        The speech power is the mean, over the frames with voice, of what each has over the room's
        noise. A frame under the noise has none: where the noise wavers, a mean over all frames less
        the noise was nothing although words stood out. People's words and phrases at 0 dB in
        recorded machine noise: 5 % lay under -18.9 dB before and lie under -4.3 dB so, while 5 dB
        down the median stays at -3.6 dB (160 of each).
        """
        speech, noise = self.speech_dbfs(), self._noise_under_speech()
        return None if speech is None or noise is None else speech - noise

    def _noise_under_speech(self) -> float | None:
        """The noise now, or while the utterance lasted: a machine may have stopped with it."""
        noise = self.noise_dbfs
        return None if noise is None else max(noise, self._beneath)

    def speech_dbfs(self) -> float | None:
        """Level of the utterance's speech alone, None when there was none or no room was measured.

        At least 30 dB under the noise: less can't be told from nothing.
        """
        under = self._noise_under_speech()
        if not self._speech or under is None:
            return None
        noise = 10 ** (under / 10)
        over = sum(max(10 ** (value / 10) - noise, 0.0) for value in self._speech)
        return 10 * math.log10(max(over / len(self._speech), noise * 1e-3))
