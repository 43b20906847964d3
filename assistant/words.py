"""Lines to text: as the screen shows them and as the voice says them, from the same words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assistant.job.effects import Line
from assistant.language.book import Phrasebook
from assistant.language.number_words import NumberWords
from assistant.language.numbers import read_back
from assistant.language.prompts import Prompts
from assistant.language.wording import NotSpeakable, Wording, for_ear
from assistant.trade.quantity import parse_number

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
        return for_ear(self.prompts.say(said.key, **values), self.wording)

    def spelled(self, typed: str) -> str:
        """Typed text as it would be spoken, for matching; the text itself where it can't be."""
        try:
            return for_ear(typed, self.wording)
        except NotSpeakable:
            return typed
