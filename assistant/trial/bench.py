"""A source of sound that keeps a simulated clock, so that a trial runs as fast as it can.

A live microphone gives a frame when its sound has been; work on it can begin then, or when the
work on the frame before is done. The clock adds the processor time that was really spent. Time
that other programs take from this one is not in it, so the figures hold on a busy machine; work
that a library does in further threads counts in full.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator

import numpy as np

from assistant.hearing.noise import to_pcm
from assistant.hearing.source import FRAME_S, FRAME_SAMPLES, RATE
from assistant.trial.sound import LEAD_S, Scene


class Bench:
    """Plays one scene after the other; the last one's room goes on until the next.

    Attributes:
        busy_s: processor time spent on everything so far.
        listening_s, leads_s: processor time spent on the room before a clip; its length.
        frames_played: frames given out so far.
    """

    def __init__(self, cpu: Callable[[], float] = time.process_time) -> None:
        self._cpu = cpu
        self._scene: Scene | None = None
        self._at = 0
        self._done_s = 0.0
        self._mark: float | None = None
        self._open = True
        self.busy_s = 0.0
        self.listening_s = 0.0
        self.leads_s = 0.0
        self.frames_played = 0
        self.lost = False
        self.dropped = 0
        self.waiting_s = 0.0

    def play(self, scene: Scene) -> None:
        """Begin a scene: LEAD_S of its room, then its clip."""
        self._scene = scene
        self._at = 0
        self._done_s = 0.0
        self._mark = None

    @property
    def done_s(self) -> float:
        """When the work on the frames so far is done, in seconds from the scene's beginning."""
        self._account()
        return self._done_s

    @property
    def after_clip_s(self) -> float:
        """How much of the room was heard after the clip; below 0 before its end."""
        clip_s = self._scene.clip_s if self._scene else 0.0
        return self._at * FRAME_S - LEAD_S - clip_s

    def frames(self) -> Iterator[bytes]:
        """Frames without end until it is closed; `play` must have been called."""
        while self._open:
            self._account()
            frame = to_pcm(self._frame())
            self._at += 1
            self.frames_played += 1
            self._mark = self._cpu()
            yield frame

    def _account(self) -> None:
        """Add the work on the last frame to the clock."""
        if self._mark is None:
            return
        spent, self._mark = self._cpu() - self._mark, None
        self._done_s = max(self._done_s, self._at * FRAME_S) + spent
        self.busy_s += spent
        if self._at * FRAME_S <= LEAD_S:
            self.listening_s += spent
            self.leads_s += FRAME_S

    def _frame(self) -> np.ndarray:
        if self._scene is None:
            raise RuntimeError("play() comes before frames()")
        first = self._at * FRAME_SAMPLES
        frame = self._scene.bed.take(range(first, first + FRAME_SAMPLES), mode="wrap")
        into = first - round(LEAD_S * RATE)
        clip = self._scene.clip
        begin, end = max(0, into), min(len(clip), into + FRAME_SAMPLES)
        if begin < end:
            frame[begin - into : end - into] += clip[begin:end]
        return frame

    def discard(self) -> None:
        """Nothing is queued: sound is made when it is asked for."""

    def deafen(self, deaf: bool) -> None:
        """Nothing is queued: sound is made when it is asked for."""

    def close(self) -> None:
        """End the frames."""
        self._open = False
