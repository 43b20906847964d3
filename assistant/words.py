"""Lines to text: as the screen shows them and as the voice says them, from the same words."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from assistant.job.effects import Line
from assistant.language.book import Phrasebook
from assistant.language.expression import normalize
from assistant.language.intent import Cost
from assistant.language.number_words import NumberWords
from assistant.language.numbers import read_back
from assistant.language.prompts import Prompts
from assistant.language.wording import NotSpeakable, Wording, for_ear
from assistant.trade.quantity import parse_number

_NOT_A_WORD = re.compile(r"[^A-Za-z .,?!;:'-]+")

_DIGIT_BY_DIGIT = frozenset({"digits"})
"""Values that are read back for checking: one three, never thirteen."""


@dataclass(frozen=True, slots=True)
class Words:
    """All the words of one language.

    Attributes:
        book: what can be said.
        prompts: what the assistant says.
        wording: how figures and abbreviations are spelled out for the ear.
        numbers: number words.
        keys: single keys and the phrases they stand for.
    """

    book: Phrasebook
    prompts: Prompts
    wording: Wording
    numbers: NumberWords
    keys: Mapping[str, str]

    def shown(self, said: Line) -> str:
        """The line for the screen."""
        return self.prompts.say(said.key, **dict(said.values))

    def spoken(self, said: Line) -> str:
        """The line for the voice: the same text, every figure and abbreviation spelled out."""
        values = {
            name: read_back(parse_number(value), self.numbers) if name in _DIGIT_BY_DIGIT else value
            for name, value in said.values
        }
        text = self.prompts.say(said.key, **values)
        try:
            return for_ear(text, self.wording)
        except NotSpeakable:
            # Only a name that somebody typed can hold such a sign (a test says so for the rest).
            # The screen shows it as it is; a live job must not end over it.
            words = _NOT_A_WORD.sub(" ", text).split()
            return " ".join(filter(None, map(self._word_aloud, words)))

    def _word_aloud(self, word: str) -> str:
        """A word for the ear: letter by letter where it can't be said as one (the name Ng)."""
        try:
            return for_ear(word, self.wording)
        except NotSpeakable:
            letters = " ".join(filter(str.isalpha, word.lower()))
            return letters + ("," if word.endswith(tuple(".,?!;:")) else "")

    def can_be_said(self, typed: str) -> bool:
        """Whether the voice has words for all of this."""
        try:
            for_ear(typed, self.wording)
        except NotSpeakable:
            return False
        return True

    def confirms(self, typed: str) -> bool:
        """Whether it holds a phrase that confirms something, so that it must not be said (I4)."""
        words = f" {' '.join(normalize(typed))} "
        return any(
            f" {' '.join(normalize(phrase))} " in words
            for entry in self.book.intents.values()
            if entry.cost is Cost.CONFIRMATION
            for phrase in entry.phrases
        )

    def spelled(self, typed: str) -> str:
        """Typed text as it would be spoken, for matching; the text itself where it can't be."""
        try:
            return for_ear(typed, self.wording)
        except NotSpeakable:
            return typed
