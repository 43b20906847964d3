"""What a typed line means: a phrase, in words or with figures and unit symbols, or a name."""

from __future__ import annotations

import re
from typing import Final

from assistant.language.grammar import Grammar
from assistant.language.intent import Intent
from assistant.language.numbers import spell
from assistant.words import Words

_BETWEEN_DIGITS: Final = re.compile(r"(?<=[0-9])(?=[0-9])")
_PART_NUMBER: Final = re.compile(r"(?=.*[0-9])[A-Za-z0-9][A-Za-z0-9 -]{0,38}")
_LONGEST_NAME: Final = 40


def intent_of(typed: str, grammar: Grammar, words: Words) -> Intent | None:
    """The one thing that the line means where this grammar counts."""
    ways = [typed, words.spelled(typed)]
    if typed.replace(" ", "").isalnum():  # a challenge (56), no 12,4
        ways.append(words.spelled(_BETWEEN_DIGITS.sub(" ", typed)))
    if _PART_NUMBER.fullmatch(typed):  # WL118: letters by their names in the alphabet
        ways.append(spell(re.sub(r"[^A-Za-z0-9]", "", typed), words.numbers))
    return next(filter(None, map(grammar.match, ways)), None)


def names_a_part(text: str, words: Words) -> bool:
    """Whether this can be read aloud as a part's name: short, speakable, no confirmation."""
    fits = 0 < len(text) <= _LONGEST_NAME
    return fits and words.can_be_said(text) and not words.confirms(text)
