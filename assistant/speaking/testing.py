"""A scripted mouth for tests: no sound, no voice, the same contract."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from assistant.speaking.mouth import HEARD, NOT_HEARD, Spoken, Turns
from assistant.speaking.phrasing import check_words

SECONDS_PER_WORD = 0.4  # 150 words per minute
_CHIME_S = 0.2


class ScriptedMouth:
    """Says nothing, remembers everything, and refuses what a voice would refuse.

    Its clock starts at 0 and moves by what is said. See `mouth.Mouth`.

    Attributes:
        spoken: everything said so far, in order.
        readied: everything asked for ahead, in order.
        now: its clock in seconds; tests may set it.
        while_speaking: called in the middle of each utterance if set, for example to call `quiet`.
        failure: raised by `say` and `chime` while set, for example `AudioUnavailable`.
        closed: whether `close` has been called.
    """

    def __init__(self) -> None:
        self.spoken: list[Spoken] = []
        self.readied: list[str] = []
        self.now = 0.0
        self.while_speaking: Callable[[], None] | None = None
        self.failure: Exception | None = None
        self.closed = False
        self._turns = Turns()

    @property
    def texts(self) -> list[str]:
        """The words of everything said so far, without the two sounds."""
        return [one.text for one in self.spoken if one.text not in {HEARD, NOT_HEARD}]

    @property
    def speaking(self) -> bool:
        """See `Mouth`."""
        return self._turns.taken

    def say(self, words: str, slowly: bool = False) -> Spoken:
        """See `Mouth`."""
        seconds = len(check_words(words).split()) * SECONDS_PER_WORD
        return self._pass(words, seconds / 0.75 if slowly else seconds)

    def chime(self, heard: bool) -> Spoken:
        """See `Mouth`."""
        return self._pass(HEARD if heard else NOT_HEARD, _CHIME_S)

    def _pass(self, text: str, seconds: float) -> Spoken:
        with self._turns.turn() as cut:
            if self.failure is not None:
                raise self.failure
            if self.while_speaking is not None:
                self.while_speaking()
            lasts = seconds / 2 if cut.is_set() else seconds
            spoken = Spoken(text, self.now, self.now + lasts, cut.is_set())
            self.now += lasts
            self.spoken.append(spoken)
            return spoken

    def ahead(self, texts: Iterable[str]) -> None:
        """See `Mouth`."""
        self.readied.extend(check_words(text) and text for text in texts)

    def quiet(self) -> None:
        """See `Mouth`."""
        self._turns.quiet()

    def close(self) -> None:
        """See `Mouth`."""
        self.closed = True
