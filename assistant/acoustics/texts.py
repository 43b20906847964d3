"""What the synthesizers are told to say: words in random order, so that none teaches its neighbor.

A third is what a shop says (commands, readings, numbers, letters), a third common words, a third
any word of the dictionary: a network that is to recognize words nobody said to it has to meet
every phone beside every other.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

_ONES: Final = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
_TEENS: Final = [
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
]
_TENS: Final = ["twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety"]
ALPHABET: Final = [
    "alpha",
    "bravo",
    "charlie",
    "delta",
    "echo",
    "foxtrot",
    "golf",
    "hotel",
    "india",
    "juliet",
    "kilo",
    "lima",
    "mike",
    "november",
    "oscar",
    "papa",
    "quebec",
    "romeo",
    "sierra",
    "tango",
    "uniform",
    "victor",
    "whiskey",
    "x-ray",
    "yankee",
    "zulu",
    "niner",
]
LETTERS: Final = [
    "a",
    "b",
    "c",
    "d",
    "e",
    "f",
    "g",
    "h",
    "i",
    "j",
    "k",
    "l",
    "m",
    "n",
    "o",
    "p",
    "q",
    "r",
    "s",
    "t",
    "u",
    "v",
    "w",
    "x",
    "y",
    "z",
]
_MORE: Final = [
    "yes",
    "no",
    "stop",
    "go",
    "up",
    "down",
    "left",
    "right",
    "on",
    "off",
    "start",
    "repeat",
    "help",
    "oh",
    "hundred",
    "thousand",
    "dot three",
    "dot four",
    "dot five",
    "dot five point one",
]
"""Further words, and the grades of brake fluid."""
_UNITS: Final = [
    "newton meters",
    "newton meter",
    "foot pounds",
    "foot pound",
    "inch pounds",
    "inch pound",
    "millimeters",
    "millimeter",
    "inches",
    "inch",
    "volts",
    "volt",
    "kilopascals",
    "kilopascal",
    "pounds per square inch",
    "bar",
    "liters",
    "liter",
    "milliliters",
    "milliliter",
    "seconds",
    "second",
    "minutes",
    "minute",
    "degrees",
    "degree",
    "turns",
    "turn",
    "pieces",
    "piece",
]


@dataclass(frozen=True, slots=True)
class Words:
    """What texts are made of.

    Attributes:
        phrases: whole phrases that people say at work.
        common: some thousand common words.
        rare: all other words.
    """

    phrases: Sequence[str]
    common: Sequence[str]
    rare: Sequence[str]


def _number(random: random.Random) -> str:
    kind = random.random()
    if kind < 0.35:
        return " ".join(random.choice(_ONES) for _ in range(random.randint(1, 4)))
    if kind < 0.5:
        return random.choice(_TEENS + _TENS)
    if kind < 0.7:
        return f"{random.choice(_TENS)} {random.choice(_ONES[1:])}"
    if kind < 0.85:
        return f"{random.choice(_ONES + _TENS)} point {random.choice(_ONES)}"
    return f"{random.choice(_ONES[1:])} hundred {random.choice(_TENS)}"


def _of_the_shop(words: Words, random: random.Random) -> str:
    one, phrase = random.choice(_ONES), random.choice(words.phrases)
    kinds = {
        phrase: 0.36,
        f"{phrase} {one} {random.choice(_ONES)}": 0.06,  # as a read-back ends
        f"{random.choice(('reading ', ''))}{_number(random)} {random.choice(_UNITS)}": 0.16,
        _number(random): 0.14,
        " ".join(random.choices(ALPHABET, k=random.randint(1, 3))): 0.11,
        " ".join(random.choices(LETTERS, k=random.randint(1, 4))): 0.09,
        random.choice(_MORE): 0.08,
    }
    return random.choices(list(kinds), list(kinds.values()))[0]


def phrase(words: Words, random: random.Random) -> str:
    """One phrase of one to six words."""
    kind = random.random()
    if kind < 0.36:
        return _of_the_shop(words, random)
    among = words.common if kind < 0.67 else words.rare
    return " ".join(random.choice(among) for _ in range(random.choice((1, 1, 2, 2, 3, 4, 5, 6))))


def every_word() -> list[str]:
    """All words that `phrase` takes from here rather than from the lists."""
    further = " ".join(["reading", "point", "hundred", *_MORE, *_UNITS]).split()
    return [*_ONES, *_TEENS, *_TENS, *ALPHABET, *LETTERS, *further]
