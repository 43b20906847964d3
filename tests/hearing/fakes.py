"""Hand-written stand-ins for the parts of hearing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from assistant.hearing.engines import Recognized
from assistant.hearing.lines import Grammar
from assistant.hearing.source import FRAME_BYTES, FRAME_SAMPLES

VOICE = np.full(FRAME_SAMPLES, 4000, dtype="<i2").tobytes()
QUIET = np.full(FRAME_SAMPLES, 10, dtype="<i2").tobytes()
DEAD = bytes(FRAME_BYTES)
NOTHING = b""


def voiced(frame: bytes) -> float:
    """A detector that calls a frame a voice when its first sample is loud."""
    return 1.0 if frame and int.from_bytes(frame[:2], "little", signed=True) > 1000 else 0.0


class Tape:
    """A source that plays given frames; "lost" and "back" among them switch its state."""

    def __init__(self, frames: Iterable[bytes | str]) -> None:
        self._frames = list(frames)
        self.lost = False
        self.dropped = 0
        self.waiting_s = 0.0
        self.discarded = 0
        self.deaf: list[bool] = []
        self.closed = False

    def frames(self) -> Iterator[bytes]:
        """The frames, acting on the words among them."""
        while self._frames and not self.closed:
            frame = self._frames.pop(0)
            if isinstance(frame, bytes):
                yield frame
            elif frame == "drop":
                self.dropped += 1
            else:
                self.lost = frame == "lost"

    def discard(self) -> None:
        """Count that it was asked to."""
        self.discarded += 1

    def deafen(self, deaf: bool) -> None:
        """Remember what it was told."""
        self.deaf.append(deaf)

    def close(self) -> None:
        """End the frames."""
        self.closed = True


class Parrot:
    """An engine that says given results, one an utterance, whatever it hears."""

    name = "pocketsphinx"  # so that the shipped bars of a real engine apply
    model = "none"

    def __init__(self, said: Sequence[Recognized | str], glance: Recognized | None = None) -> None:
        self._glance = glance
        self.glances = 0
        self._said = [Recognized(s, 1.0) if isinstance(s, str) else s for s in said]
        self.heard: list[bytes] = []
        self.grammars: list[Grammar] = []

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """It knows every word."""
        del words
        return frozenset()

    def use(self, grammar: Grammar) -> None:
        """Remember the grammar."""
        self.grammars.append(grammar)

    def start(self) -> None:
        """An utterance begins."""
        self.heard.append(b"")

    def feed(self, pcm: bytes) -> None:
        """Remember the sound."""
        self.heard[-1] += pcm

    def glance(self) -> Recognized | None:
        """What it was told; by default it is never sure before the end."""
        self.glances += 1
        return self._glance

    def partial(self) -> str:
        """The whole of what it will say."""
        return self._said[0].text if self._said else ""

    def finish(self) -> Recognized:
        """The next result."""
        return self._said.pop(0) if self._said else Recognized("", 0.0)
