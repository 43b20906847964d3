"""How alike phrases sound: the distance between their phones.

The distance counts phones that must be changed, left out or put in; a phone changed into a similar
one counts by the share of its features that differ. Consonants have voicing, manner and place, the
features by which G. Miller and P. Nicely, "An analysis of perceptual confusions among some English
consonants", JASA 27, 1955, explain what listeners confuse in noise; vowels have height, place and
color, as in the chart of the International Phonetic Association. A vowel never passes for a
consonant.
"""

from __future__ import annotations

from collections.abc import Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations, product
from typing import Final

from assistant.errors import BadInput
from assistant.language.expression import Word
from assistant.language.number_words import Words
from assistant.language.pattern import Pattern

Phones = tuple[str, ...]
Dictionary = Mapping[str, tuple[Phones, ...]]

_CONSONANTS: Final = {
    "P": "- stop labial",
    "B": "+ stop labial",
    "T": "- stop alveolar",
    "D": "+ stop alveolar",
    "K": "- stop velar",
    "G": "+ stop velar",
    "CH": "- affricate postalveolar",
    "JH": "+ affricate postalveolar",
    "F": "- fricative labial",
    "V": "+ fricative labial",
    "TH": "- fricative dental",
    "DH": "+ fricative dental",
    "S": "- fricative alveolar",
    "Z": "+ fricative alveolar",
    "SH": "- fricative postalveolar",
    "ZH": "+ fricative postalveolar",
    "HH": "- fricative glottal",
    "M": "+ nasal labial",
    "N": "+ nasal alveolar",
    "NG": "+ nasal velar",
    "L": "+ liquid alveolar",
    "R": "+ liquid postalveolar",
    "W": "+ glide labial",
    "Y": "+ glide palatal",
}
_VOWELS: Final = {
    "IY": "high front tense",
    "IH": "high front lax",
    "EY": "mid front gliding",
    "EH": "mid front lax",
    "AE": "low front lax",
    "AA": "low back lax",
    "AO": "mid back lax",
    "OW": "mid back gliding",
    "UH": "high back lax",
    "UW": "high back tense",
    "AH": "mid central lax",
    "ER": "mid central rhotic",
    "AY": "low central gliding",
    "AW": "low back gliding",
    "OY": "mid back gliding-front",
}

TOO_ALIKE: Final = 2.0
"""Phrases as near as this, in phones, are told apart too badly.

Measured with `python -m tests.language.bench_confusion`: of people's clips of 23 single words,
clean and in pink noise at 10 dB, PocketSphinx heard one as another that is at most 1 phone away in
6.5 %, from 1 to 2 phones in 2.3 %, from 2 to 3 in 1.3 %, and farther away in 0.6 %."""


@dataclass(frozen=True, slots=True)
class Alike:
    """Two phrases that mean different things and sound too much alike.

    Attributes:
        one, other: the phrases.
        distance: between them, in phones.
    """

    one: str
    other: str
    distance: float

    def __str__(self) -> str:
        return f'"{self.one}" and "{self.other}" sound alike ({self.distance:.1f} phones apart)'


def read_dictionary(text: str, words: Iterable[str]) -> Dictionary:
    """The pronunciations of these words.

    Args:
        text: a dictionary in the form of the CMU Pronouncing Dictionary, "word PH PH" a line, a
            second way as "word(2) PH PH".
        words: those that are wanted; one that the dictionary lacks is left out.
    """
    wanted = set(words)
    found: dict[str, list[Phones]] = {}
    for row in text.splitlines():
        head, _, phones = row.partition(" ")
        word = head.partition("(")[0].lower()
        if word in wanted:
            found.setdefault(word, []).append(_without_stress(phones))
    return {word: tuple(ways) for word, ways in found.items()}


def with_own(dictionary: Dictionary, own: Mapping[str, Sequence[str]]) -> Dictionary:
    """The dictionary and a phrasebook's own pronunciations of words that it lacks."""
    more = {word: tuple(map(_without_stress, ways)) for word, ways in own.items()}
    return {**more, **dictionary}


def _without_stress(phones: str) -> Phones:
    return tuple(phone.rstrip("012") for phone in phones.split())


def phone_distance(one: str, other: str) -> float:
    """How much two phones differ, 0 to 1.

    Raises:
        BadInput: one of them is no phone of American English.
    """
    for phone in (one, other):
        if phone not in _CONSONANTS and phone not in _VOWELS:
            raise BadInput(f'"{phone}" is no phone of the CMU Pronouncing Dictionary')
    return _phone_distance(one, other)


@cache
def _phone_distance(one: str, other: str) -> float:
    if one == other:
        return 0.0
    for table in (_CONSONANTS, _VOWELS):
        if one in table and other in table:
            pairs = zip(table[one].split(), table[other].split(), strict=True)
            return max(sum(a != b for a, b in pairs), 1) / 3
    return 1.0


def distance(one: Sequence[str], other: Sequence[str]) -> float:
    """The least sum of changes that makes one row of phones into the other."""
    row = [float(count) for count in range(len(other) + 1)]
    for number, phone in enumerate(one, start=1):
        above, row = row, [float(number)]
        for at, facing in enumerate(other, start=1):
            changed = above[at - 1] + phone_distance(phone, facing)
            row.append(min(above[at] + 1, row[at - 1] + 1, changed))
    return row[-1]


def ways_to_say(words: Sequence[str], dictionary: Dictionary) -> Iterator[Phones]:
    """Every way to say a phrase; none when a word of it is unknown."""
    if all(word in dictionary for word in words):
        for ways in product(*(dictionary[word] for word in words)):
            yield tuple(phone for way in ways for phone in way)


def phrase_distance(one: Sequence[str], other: Sequence[str], dictionary: Dictionary) -> float:
    """The distance of the two ways to say them that are nearest; infinite for unknown words."""
    pairs = product(ways_to_say(one, dictionary), ways_to_say(other, dictionary))
    return min((distance(a, b) for a, b in pairs), default=float("inf"))


def fixed_phrases(patterns: Iterable[Pattern]) -> dict[Words, tuple[str, ...]]:
    """Every phrase without an open slot, with its intent and the values of its slots.

    Numbers and letters are left out: they are told apart by the read-back.
    """
    found: dict[Words, tuple[str, ...]] = {}
    for pattern in patterns:
        said: list[list[tuple[Words, tuple[str, ...]]]] = []
        for part in pattern.parts:
            if isinstance(part, Word):
                said.append([((part.text,), ())])
            else:
                said.append([(way, (value,)) for value, ways in part.ways.items() for way in ways])
        for way in product(*said):
            words = tuple(word for piece, _ in way for word in piece)
            found[words] = (pattern.intent, *(value for _, values in way for value in values))
    return found


def alike(
    phrases: Mapping[Words, tuple[str, ...]],
    dictionary: Dictionary,
    among: Container[Words] | None = None,
) -> Iterator[Alike]:
    """Pairs of phrases active together that sound too much alike.

    Args:
        phrases: words of each phrase, and what it means; pairs that mean the same are fine.
        dictionary: pronunciations of their words.
        among: one phrase of each pair must be in this; all are looked at when left out.
    """
    near = TOO_ALIKE
    for (one, meaning), (other, another) in combinations(phrases.items(), 2):
        wanted = among is None or one in among or other in among
        # A word more is a phone more at least.
        if wanted and meaning != another and abs(len(one) - len(other)) <= near:
            apart = phrase_distance(one, other, dictionary)
            if apart <= near:
                yield Alike(" ".join(one), " ".join(other), apart)
