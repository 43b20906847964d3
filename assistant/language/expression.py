"""What can be said, as one small tree from which the matcher and every notation are made."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

_NOT_A_WORD = re.compile(r"[^\w\s']|_")
_LONE_APOSTROPHE = re.compile(r"(?<!\w)'+|'+(?!\w)")


def normalize(text: str) -> tuple[str, ...]:
    """The words of a text: one case, no punctuation; a hyphen is a space."""
    folded = unicodedata.normalize("NFC", text).casefold().replace("’", "'")
    return tuple(_LONE_APOSTROPHE.sub(" ", _NOT_A_WORD.sub(" ", folded)).split())


@dataclass(frozen=True, slots=True)
class Word:
    """One normalized word."""

    text: str


@dataclass(frozen=True, slots=True)
class Run:
    """Parts one after the other."""

    parts: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several; never empty."""

    options: tuple[Expression, ...]


@dataclass(frozen=True, slots=True)
class Repeat:
    """A part `low` to `high` times; `high` None means without end."""

    part: Expression
    low: int
    high: int | None


@dataclass(frozen=True, slots=True)
class Rule:
    """A part with a name of its own, written once in notations that know rules."""

    name: str
    part: Expression


Expression = Word | Run | Choice | Repeat | Rule


def phrase(text: str) -> Expression:
    """The words of a text, one after the other."""
    words = tuple(Word(word) for word in normalize(text))
    return words[0] if len(words) == 1 else Run(words)


def choice(options: Sequence[Expression]) -> Expression:
    """One of these, without doubles."""
    unique = tuple(dict.fromkeys(options))
    return unique[0] if len(unique) == 1 else Choice(unique)


def optional(part: Expression) -> Expression:
    """The part or nothing."""
    return Repeat(part, 0, 1)


def words_of(expression: Expression) -> Iterator[str]:
    """Every word in the tree, as often as it stands there."""
    match expression:
        case Word(text):
            yield text
        case Run(parts) | Choice(parts):
            for part in parts:
                yield from words_of(part)
        case Repeat(part) | Rule(_, part):
            yield from words_of(part)


def ends(expression: Expression, words: Sequence[str], start: int) -> frozenset[int]:
    """Where the expression can end if it begins at `start`."""
    match expression:
        case Word(text):
            hit = start < len(words) and words[start] == text
            return frozenset((start + 1,)) if hit else frozenset()
        case Run(parts):
            here = frozenset((start,))
            for part in parts:
                here = frozenset(e for s in here for e in ends(part, words, s))
            return here
        case Choice(options):
            return frozenset(e for option in options for e in ends(option, words, start))
        case Rule(_, part):
            return ends(part, words, start)
        case Repeat():
            return _repeat_ends(expression, words, start)


def _repeat_ends(repeat: Repeat, words: Sequence[str], start: int) -> frozenset[int]:
    found = {start} if repeat.low == 0 else set()
    here, seen = frozenset((start,)), {start}
    times = 0
    while here and (repeat.high is None or times < repeat.high):
        times += 1
        here = frozenset(e for s in here for e in ends(repeat.part, words, s))
        if times >= repeat.low:
            # Without an upper bound only new ends can lead further.
            here = here if repeat.high is not None else here - seen
            found |= here
            seen |= here
    return frozenset(found)
