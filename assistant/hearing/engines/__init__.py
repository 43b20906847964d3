"""Recognisers behind one port."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Final, Protocol

from assistant.hearing.lines import Grammar

TAKES: Final = "takes"
"""Evidence by this name: a person's enrolled takes had a say."""

LONGEST_TALK_S: Final = 7.0
"""Who has talked for so long says no phrase: the longest read-back takes five seconds. What is
longer isn't looked into while it lasts, and not heard along: it costs time and memory."""


@dataclass(frozen=True, slots=True)
class Recognized:
    """What an engine made of an utterance.

    Attributes:
        text: the words, lower case, one space between them; "" when nothing was recognised.
        confidence: 0 to 1, comparable within one engine only.
        details: the evidence by name, for the journal and for tuning.
    """

    text: str
    confidence: float
    details: Mapping[str, float] = field(default_factory=dict)


class Engine(Protocol):
    """A recogniser. One thread uses it; calls come in the order use, start, feed..., finish.

    An utterance that was decided by a `glance` is left without `finish`. `use` may be called
    between utterances only. `feed` may block for about a hundredth of the sound's length, `finish`
    for up to a few tenths of a second.
    """

    @property
    def name(self) -> str:
        """Short stable name: "pocketsphinx", "vosk"."""

    @property
    def model(self) -> str:
        """Which model it runs, for the record."""

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Those of the words that this engine could never hear."""

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next utterance on.

        Raises:
            UnknownWords: a phrase holds a word that the engine doesn't know.
        """

    def start(self) -> None:
        """An utterance begins."""

    def feed(self, pcm: bytes) -> None:
        """Take more of the utterance: 16 kHz mono s16le."""

    def partial(self) -> str:
        """The words so far; they may still change."""

    def glance(self) -> Recognized | None:
        """What the utterance would be if it ended now; None when that can't be told quickly.

        Its confidence is to be weighed like that of `finish`. May take a few hundredths of a
        second; the utterance goes on.
        """

    def finish(self) -> Recognized:
        """The utterance is over."""
