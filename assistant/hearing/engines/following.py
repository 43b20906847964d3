"""A Vosk recognizer that hears an utterance along, so that little is left when it seems over.

A look at what was said ends the recognizer's hearing. When the voice goes on, it hears the sound
kept so far again, a little with each frame.
"""

from __future__ import annotations

import json
from typing import Any, Final

from assistant.hearing.engines import LONGEST_TALK_S
from assistant.hearing.engines.opinion import Texts
from assistant.hearing.source import RATE, room_tone

BLOCK_BYTES: Final = 4096
"""0.128 s: the size that the maintainer calls optimal (library facts, endpointing)."""

_CATCH_UP_BYTES: Final = 4 * BLOCK_BYTES
"""Most that is heard with one more frame: half a second of sound, 7 ms of work."""

_LONGEST_BYTES: Final = round(LONGEST_TALK_S * RATE) * 2
"""The rest is heard at the end, if anybody asks: what Vosk keeps of a long talk takes memory."""

_RIGHT_CONTEXT: Final = room_tone(round(0.3 * RATE))
"""The model looks a third of a second ahead."""

_CLEARING: Final = room_tone(round(0.1 * RATE))


class Follower:
    """Hears one utterance after the other.

    What it finds is what the recognizer finds in the whole at once, to the last digit of the score:
    50 of 50 people's clips, for blocks of 0.03 to 0.4 s. A look took 17.5 ms of processor time,
    where it took 43.8 for the whole (mean of the same 50, of 1.8 s, 73 phrases; load 1).

    Args:
        recognizer: a `vosk.KaldiRecognizer` that gives alternatives; nobody else uses it.
    """

    def __init__(self, recognizer: Any) -> None:  # noqa: ANN401 - ships no types
        self._recognizer = recognizer
        self._heard = bytearray()
        self._taken = 0

    @property
    def heard(self) -> bytes:
        """The utterance so far: 16 kHz mono s16le."""
        return bytes(self._heard)

    def start(self) -> None:
        """An utterance begins."""
        self.leave()
        self._heard = bytearray()

    def leave(self) -> None:
        """Nobody will ask for the utterance: give back what was kept of it.

        Without a result the recognizer's features would go on into the next utterance.
        """
        if self._taken:
            self._recognizer.Reset()
            self._result(_CLEARING)

    def feed(self, pcm: bytes) -> None:
        """Hear more of the utterance; what is not yet a whole block waits."""
        self._heard += pcm
        ready = min(len(self._heard), _LONGEST_BYTES, self._taken + _CATCH_UP_BYTES)
        while self._taken + BLOCK_BYTES <= ready:
            block = self._heard[self._taken : self._taken + BLOCK_BYTES]
            self._recognizer.AcceptWaveform(bytes(block))
            self._taken += BLOCK_BYTES

    def texts(self) -> Texts:
        """The likeliest texts of the whole so far, as if it ended now."""
        return self._result(bytes(self._heard[self._taken :]) + _RIGHT_CONTEXT)

    def texts_of(self, pcm: bytes) -> Texts:
        """The likeliest texts of another sound."""
        self.leave()
        return self._result(pcm + _RIGHT_CONTEXT)

    def _result(self, rest: bytes) -> Texts:
        self._recognizer.AcceptWaveform(rest)
        self._taken = 0
        found = json.loads(self._recognizer.FinalResult()).get("alternatives", ())
        return [(str(each["text"]), float(each["confidence"])) for each in found if each["text"]]
