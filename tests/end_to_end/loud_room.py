"""A shop without a sound card in which the microphone hears everything: people and loudspeaker.

The room is the product's own, and so is the microphone: only its PortAudio stream is made here.
What the loudspeaker says reaches the microphone as loud as a person, a tenth of a second late,
while it is said. Time is counted in sound.
"""

from __future__ import annotations

import threading
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from assistant.hearing.microphone import Callback, Microphone, Stream
from assistant.hearing.noise import Samples, active_level_db, from_pcm, to_pcm
from assistant.hearing.room import Room
from assistant.hearing.source import FRAME_S, FRAME_SAMPLES, RATE
from assistant.speaking.file_mouth import FileMouth
from assistant.speaking.mouth import Spoken
from assistant.speaking.renderer import Renderer
from assistant.speaking.speech import Speech

LEVEL_DBFS = -23.0
"""Of people and of the loudspeaker."""

_LATE_FRAMES = 3
"""A sound card's delay: the last tenth of a second is heard after the assistant has finished."""


@dataclass(slots=True)
class _HandStream:
    """A PortAudio stream whose callbacks the room makes."""

    callback: Callback
    active: bool = True

    def close(self) -> None:
        """Give nothing more."""
        self.active = False


class LoudRoom:
    """The `Source` of a bay in such a room.

    Args:
        room: where people speak; see `speak`.

    Attributes:
        now: seconds of sound since the beginning.
    """

    def __init__(self, room: Room | None = None) -> None:
        self.now = 0.0
        self._room = room or Room(speech_dbfs=LEVEL_DBFS)
        self._frames = self._room.frames()
        self._loudspeaker: deque[Samples] = deque()
        self._streams: list[_HandStream] = []
        self._microphone = Microphone("by hand", opener=self._open, clock=lambda: self.now)

    def _open(self, _device: str | None, _rate: int, _block: int, callback: Callback) -> Stream:
        self._streams.append(_HandStream(callback))
        return self._streams[-1]

    def speak(self, pcm: bytes, after_s: float = 0.0) -> None:
        """Somebody says this from now on, whether the assistant speaks or not."""
        self._room.speak(pcm, after_s)

    @property
    def speaking(self) -> bool:
        """Whether a person is still saying something."""
        return self._room.speaking

    def loudspeaker(self, speech: Speech) -> None:
        """Let the assistant say this; returns when it has ended."""
        samples = from_pcm(speech.at_rate(RATE).pcm)
        loud = samples * 10 ** ((LEVEL_DBFS - active_level_db(samples, RATE)) / 20)
        whole = np.pad(loud, (0, -len(loud) % FRAME_SAMPLES)).reshape(-1, FRAME_SAMPLES)
        late = _LATE_FRAMES - len(self._loudspeaker)
        self._loudspeaker.extend([np.zeros(FRAME_SAMPLES)] * late)
        self._loudspeaker.extend(whole)
        for _ in whole:
            self._pass()

    def _pass(self) -> None:
        """One frame's time: the microphone gets what sounds now."""
        self.now += FRAME_S
        frame = next(self._frames)
        if self._loudspeaker:
            frame = to_pcm(from_pcm(frame) + self._loudspeaker.popleft())
        self._streams[-1].callback(memoryview(frame), FRAME_SAMPLES, None, None)

    def frames(self) -> Iterator[bytes]:
        """See `Source`: time passes as it is listened to."""
        heard = self._microphone.frames()
        while True:
            self._pass()
            frame = next(heard, None)
            if frame is None:
                return
            yield frame

    def discard(self) -> None:
        """See `Source`."""
        self._microphone.discard()

    def deafen(self, deaf: bool) -> None:
        """See `Source`."""
        self._microphone.deafen(deaf)

    def close(self) -> None:
        """See `Source`."""
        self._microphone.close()

    @property
    def waiting_s(self) -> float:
        """See `Source`."""
        return self._microphone.waiting_s

    @property
    def lost(self) -> bool:
        """See `Source`."""
        return self._microphone.lost

    @property
    def dropped(self) -> int:
        """See `Source`."""
        return self._microphone.dropped


class LoudMouth(FileMouth):
    """Speaks into a loud room.

    Attributes:
        sounds: what was said, with its sound, in order.
    """

    def __init__(self, renderer: Renderer, room: LoudRoom) -> None:
        super().__init__(renderer)
        self.sounds: list[tuple[str, Speech]] = []
        self._into = room

    def _place(self, text: str, speech: Speech, cut: threading.Event) -> Spoken:
        self.sounds.append((text, speech))
        self._into.loudspeaker(speech)
        return super()._place(text, speech, cut)
