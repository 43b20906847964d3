"""A mouth without a sound device: what is said is collected into one track, in its place in time.

The rehearsal uses it. Its clock is its own unless it runs in real time: saying something takes no
time and moves the clock by its length, and `pass_time` moves it by what happens in between.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Iterable

import numpy as np

from assistant.speaking import earcon
from assistant.speaking.mouth import HEARD, NOT_HEARD, Spoken, Turns
from assistant.speaking.renderer import Renderer
from assistant.speaking.speech import HEARING_RATE, Speech


class FileMouth:
    """Collects what is said at 16 kHz. See `mouth.Mouth`.

    Args:
        renderer: the voice; `close` closes it.
        realtime: whether saying takes as long as hearing it would.
        began_mono: the clock's first moment when not in real time, in seconds.

    Attributes:
        spoken: everything said so far, in order.
    """

    def __init__(
        self, renderer: Renderer, *, realtime: bool = False, began_mono: float = 0.0
    ) -> None:
        self.spoken: list[Spoken] = []
        self._renderer = renderer
        self._realtime = realtime
        self._began = time.monotonic() if realtime else began_mono
        self._now = self._began
        self._turns = Turns()
        self._pieces: list[tuple[int, Speech]] = []  # first sample of the track, sound
        self._cut_after: float | None = None

    @property
    def now(self) -> float:
        """The clock by which `Spoken` is timed, in seconds."""
        return time.monotonic() if self._realtime else self._now

    def pass_time(self, seconds: float) -> None:
        """Let silence pass; waits for it in real time.

        Raises:
            ValueError: it is negative.
        """
        if seconds < 0:
            raise ValueError(f"time can't pass backwards: {seconds} s")
        if self._realtime:
            time.sleep(seconds)
        else:
            self._now += seconds

    def cut_next(self, after_s: float) -> None:
        """Have the next thing said be cut so long after it began, as `quiet` would."""
        self._cut_after = after_s

    @property
    def speaking(self) -> bool:
        """See `Mouth`."""
        return self._turns.taken

    def say(self, words: str, slowly: bool = False) -> Spoken:
        """See `Mouth`."""
        with self._turns.turn() as cut:
            return self._place(words, self._renderer.render(words, slowly=slowly), cut)

    def chime(self, heard: bool) -> Spoken:
        """See `Mouth`."""
        with self._turns.turn() as cut:
            sound = earcon.heard() if heard else earcon.not_heard()
            return self._place(HEARD if heard else NOT_HEARD, sound, cut)

    def add(self, sound: Speech, *, wait: bool = True) -> None:
        """Put another sound into the track, now: what somebody answered.

        Args:
            sound: it.
            wait: whether time passes until it has ended.
        """
        first = round((self.now - self._began) * HEARING_RATE)
        self._pieces.append((first, sound.at_rate(HEARING_RATE)))
        if wait:
            self.pass_time(sound.seconds)

    def _place(self, text: str, speech: Speech, cut: threading.Event) -> Spoken:
        began = self.now
        lasts = speech.seconds
        if self._cut_after is not None:
            lasts, self._cut_after = min(lasts, self._cut_after), None
        if self._realtime:
            cut.wait(lasts)
            lasts = min(lasts, self.now - began)
        else:
            self._now += lasts
        was_cut = lasts < speech.seconds
        sound = speech.until(lasts) if was_cut else speech
        first = round((began - self._began) * HEARING_RATE)
        self._pieces.append((first, sound.at_rate(HEARING_RATE)))
        spoken = Spoken(text, began, began + lasts, was_cut)
        self.spoken.append(spoken)
        return spoken

    def track(self) -> Speech:
        """Return all that was said, 16 kHz, each in its place from the clock's first moment to now.

        What overlaps by a rounded sample is added.
        """
        ends = [first + len(sound.samples) for first, sound in self._pieces]
        ends.append(round((self.now - self._began) * HEARING_RATE))
        track = np.zeros(max(ends), dtype=np.float64)
        for first, sound in self._pieces:
            track[first : first + len(sound.samples)] += sound.samples
        return Speech.from_samples(track, HEARING_RATE)

    def ahead(self, texts: Iterable[str]) -> None:
        """See `Mouth`."""
        self._renderer.ahead(texts)

    def quiet(self) -> None:
        """See `Mouth`."""
        self._turns.quiet()

    def close(self) -> None:
        """See `Mouth`; the track stays."""
        self.quiet()
        self._renderer.close()
