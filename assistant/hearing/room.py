"""A room without a microphone: steady noise into which lines are spoken.

The rehearsal and the measurements use it as their `Source`, so that what they say goes through
the same hearing path as a live microphone.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Iterator
from typing import Final

import numpy as np

from assistant.errors import BadInput
from assistant.hearing.noise import (
    NOISES,
    Samples,
    active_level_db,
    at_level_db,
    from_pcm,
    to_pcm,
    white,
)
from assistant.hearing.source import FRAME_S, FRAME_SAMPLES, RATE

QUIET: Final = "quiet"
KINDS: Final = (QUIET, *NOISES)

QUIET_DBFS: Final = -75.0
"""Level of a room without noise: faint enough for any voice, but not digital silence."""

_LOOP_FRAMES: Final = 640
"""The noise repeats after 20 s."""


class Room:
    """A source of steady noise into which lines are spoken.

    Args:
        noise: its kind, one of `KINDS`.
        snr_db: how far a line's active speech stands above the noise; None for a quiet room.
        speech_dbfs: level that every line's active speech is brought to.
        seed: of the noise.
        realtime: let time pass as in a real room.

    Raises:
        BadInput: no such kind of noise.
    """

    def __init__(
        self,
        noise: str = QUIET,
        snr_db: float | None = None,
        *,
        speech_dbfs: float = -23.0,
        seed: int = 1,
        realtime: bool = False,
    ) -> None:
        if noise not in KINDS:
            raise BadInput(f"no noise is called {noise!r}; one of: {', '.join(KINDS)}")
        quiet = noise == QUIET or snr_db is None
        length = _LOOP_FRAMES * FRAME_SAMPLES
        made = white(length, seed) if quiet else NOISES[noise](length, RATE, seed)
        level = QUIET_DBFS if quiet or snr_db is None else speech_dbfs - snr_db
        self._noise = at_level_db(made, level).reshape(-1, FRAME_SAMPLES)
        self._at = 0
        self._speech_dbfs = speech_dbfs
        self._lines: deque[Samples] = deque()
        self._realtime = realtime
        self._due: float | None = None
        self._open = True
        self.lost = False
        self.dropped = 0
        self.waiting_s = 0.0  # sound is made when it is asked for

    def speak(self, pcm: bytes, after_s: float = 0.0) -> None:
        """Say a line, 16 kHz mono s16le, after this many seconds of the room alone.

        Raises:
            BadInput: the line is silent.
        """
        samples = from_pcm(pcm)
        gain = 10 ** ((self._speech_dbfs - active_level_db(samples, RATE)) / 20)
        line = np.concatenate([np.zeros(round(after_s * RATE)), samples * gain])
        line = np.pad(line, (0, -len(line) % FRAME_SAMPLES))
        self._lines.extend(line.reshape(-1, FRAME_SAMPLES))

    @property
    def speaking(self) -> bool:
        """Whether a line is still being said."""
        return bool(self._lines)

    def frames(self) -> Iterator[bytes]:
        """Frames of the room, without end until it is closed."""
        while self._open:
            self._pace()
            frame = self._noise[self._at]
            self._at = (self._at + 1) % len(self._noise)
            yield to_pcm(frame + self._lines.popleft() if self._lines else frame)

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
