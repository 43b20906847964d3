"""The mouth: says words aloud, one after another, and can be told to be quiet."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Protocol

from assistant.speaking import earcon
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.renderer import Renderer
from assistant.speaking.speech import Speech

HEARD, NOT_HEARD = "(heard)", "(not heard)"
"""What `Spoken.text` holds for the two sounds."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """Something that was said; "finished speaking" is what the microphone's gate waits for.

    Attributes:
        text: the words that were asked for, also when they were cut short.
        began_mono: `time.monotonic` at its first sound, in seconds.
        ended_mono: the same at its last sound.
        cut: whether `quiet` cut it short.
    """

    text: str
    began_mono: float
    ended_mono: float
    cut: bool


class Mouth(Protocol):
    """Speaks for the assistant.

    `say` and `chime` block the thread that owns the job until the sound has ended; `quiet` may come
    from any thread, returns at once, and touches only what is being said at that moment.
    """

    @property
    def speaking(self) -> bool:
        """Whether something is being said: nothing that is heard meanwhile may confirm."""

    def say(self, words: str, slowly: bool = False) -> Spoken:
        """Say words; return when the last sound has ended.

        Args:
            words: worded for the ear by the caller: no digits, no symbols.
            slowly: at three quarters of the rate.

        Raises:
            ValueError: the words hold digits or symbols, or nothing to say.
            VoiceUnavailable: nothing here can speak.
            AudioUnavailable: the loudspeaker is missing or was lost; the next call tries it again.
        """

    def chime(self, heard: bool) -> Spoken:
        """Play the short sound for "heard" or for "not heard"; raises as `say` does."""

    def ahead(self, texts: Iterable[str]) -> None:
        """Have these ready before they are asked for; returns at once."""

    def quiet(self) -> None:
        """Cut what is being said within 50 ms."""

    def close(self) -> None:
        """Give back voice and device."""


class Turns:
    """One utterance at a time, and the event that cuts it; any thread may call it."""

    def __init__(self) -> None:
        self._one = threading.Lock()
        self._cut: threading.Event | None = None

    @contextlib.contextmanager
    def turn(self) -> Iterator[threading.Event]:
        """Wait for one's turn; gives the event that cuts this utterance and no other."""
        with self._one:
            self._cut = threading.Event()
            try:
                yield self._cut
            finally:
                self._cut = None

    @property
    def taken(self) -> bool:
        """Whether an utterance is under way."""
        return self._cut is not None

    def quiet(self) -> None:
        """Cut the utterance that is under way, if one is."""
        cut = self._cut
        if cut is not None:
            cut.set()


class VoiceMouth:
    """The real mouth: a voice and a loudspeaker. See `Mouth`."""

    def __init__(self, renderer: Renderer, loudspeaker: Loudspeaker) -> None:
        self._renderer = renderer
        self._loudspeaker = loudspeaker
        self._turns = Turns()

    @property
    def speaking(self) -> bool:
        """See `Mouth`."""
        return self._turns.taken

    def say(self, words: str, slowly: bool = False) -> Spoken:
        """See `Mouth`."""
        with self._turns.turn() as cut:
            return self._play(words, self._renderer.render(words, slowly=slowly), cut)

    def chime(self, heard: bool) -> Spoken:
        """See `Mouth`."""
        with self._turns.turn() as cut:
            sound = earcon.heard() if heard else earcon.not_heard()
            return self._play(HEARD if heard else NOT_HEARD, sound, cut)

    def _play(self, text: str, speech: Speech, cut: threading.Event) -> Spoken:
        played = self._loudspeaker.play(speech, cut)
        return Spoken(text, played.began_mono, played.ended_mono, played.cut)

    def ahead(self, texts: Iterable[str]) -> None:
        """See `Mouth`."""
        self._renderer.ahead(texts)

    def quiet(self) -> None:
        """See `Mouth`."""
        self._turns.quiet()

    def close(self) -> None:
        """See `Mouth`; cuts what is being said."""
        self.quiet()
        self._loudspeaker.close()
        self._renderer.close()
