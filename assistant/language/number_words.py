"""The number words and the spelling alphabet of one language: data, and what they admit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field

from assistant.errors import BadFile, Finding
from assistant.language.expression import (
    Choice,
    Expression,
    Repeat,
    Rule,
    Run,
    choice,
    normalize,
    optional,
    phrase,
)
from assistant.language.located import Located, Path, read_yaml, validate

MOST_DIGITS: Final = 4
MOST_DECIMALS: Final = 3

Words = tuple[str, ...]
_Ways = Annotated[list[str], Field(min_length=1)]


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class _Denominator(_Strict):
    one: _Ways
    many: list[str] = []
    article: str | None = None


class _NumbersFile(_Strict):
    language: Annotated[str, Field(pattern=r"^[a-z]{2,3}$")]
    digits: dict[int, _Ways]
    point: _Ways
    and_: Annotated[list[str], Field(alias="and")] = []
    ones: dict[int, str]
    teens: dict[int, str] = {}
    tens: dict[int, str]
    hundreds: dict[int, str]
    thousand: str | None = None
    minus: str | None = None
    over: str | None = None
    fractions: dict[int, _Denominator] = {}
    letters: dict[str, _Ways] = {}
    separators: list[str] = []


@dataclass(frozen=True)
class NumberWords:
    """The number words and the spelling alphabet of one language.

    Attributes:
        digits: "0".."9" and what may be said for each; the first is what the voice says.
        small: whole numbers below 100 that are one way of saying each, 1 upwards.
        hundreds: 100, 200 .. 900.
        fractions: denominator: (ways for one, ways for many, article or None).
        letters: "A".."Z" and their names in the spelling alphabet; may be empty.
        separators: words inside a part number that carry no meaning.
    """

    language: str
    digits: Mapping[str, tuple[Words, ...]]
    point: tuple[Words, ...]
    and_: tuple[Words, ...]
    small: Mapping[int, Words]
    hundreds: Mapping[int, Words]
    thousand: Words
    minus: Words
    over: Words
    fractions: Mapping[int, tuple[tuple[Words, ...], tuple[Words, ...], Words]]
    letters: Mapping[str, tuple[Words, ...]]
    separators: tuple[Words, ...]

    @cached_property
    def cardinals(self) -> Mapping[Words, int]:
        """Words of every cardinal from 0 to 999, and their value."""
        table = {self.digits["0"][0]: 0}
        table.update({words: value for value, words in self.small.items()})
        for hundred, words in self.hundreds.items():
            table[words] = hundred
            table.update({words + low: hundred + n for n, low in self.small.items()})
        return table

    @cached_property
    def cardinal_words(self) -> Mapping[int, Words]:
        """Each of them the other way round."""
        return {value: words for words, value in self.cardinals.items()}

    @cached_property
    def proper_fractions(self) -> Mapping[Words, Fraction]:
        """Words of every proper fraction that may be said: nine sixteenths."""
        table: dict[Words, Fraction] = {}
        for denominator, (one, many, _) in self.fractions.items():
            for numerator in range(1, denominator):
                for last in one if numerator == 1 else many:
                    table[self.small[numerator] + last] = Fraction(numerator, denominator)
        return table

    @cached_property
    def after_and(self) -> Mapping[Words, Fraction]:
        """Fractions that may follow "and": also "a half"."""
        table = dict(self.proper_fractions)
        for denominator, (one, _, article) in self.fractions.items():
            if article:
                table.update({article + last: Fraction(1, denominator) for last in one})
        return table

    @cached_property
    def digit_values(self) -> Mapping[str, str]:
        """Each word for a digit and its figure."""
        return {way[0]: figure for figure, ways in self.digits.items() for way in ways}

    @cached_property
    def vocabulary(self) -> frozenset[str]:
        """Every word that numbers are made of."""
        ways = [*self.cardinals, *self.proper_fractions, *self.point, self.thousand]
        return frozenset(word for way in ways for word in way) | self.digit_values.keys()

    # Expressions, for grammars. Each admits exactly what `parse_number` and its like understand.

    @cached_property
    def digit(self) -> Expression:
        """One spoken digit."""
        return Rule("digit", choice([phrase(" ".join(w)) for w in self._digit_ways]))

    @property
    def _digit_ways(self) -> list[Words]:
        return [way for ways in self.digits.values() for way in ways]

    @cached_property
    def below_hundred(self) -> Expression:
        """1 to 99 as words."""
        by_first: dict[str, list[Words]] = {}
        for words in self.small.values():
            by_first.setdefault(words[0], []).append(words[1:])
        return Rule("below_hundred", _trie(by_first))

    @cached_property
    def whole(self) -> Expression:
        """A whole number: digit by digit, or as it is counted."""
        zero = phrase(" ".join(self.digits["0"][0]))
        hundred = Rule("hundreds", choice([phrase(" ".join(w)) for w in self.hundreds.values()]))
        cardinal = Rule(
            "whole",
            Choice((zero, self.below_hundred, Run((hundred, optional(self.below_hundred))))),
        )
        return Choice((Repeat(self.digit, 1, MOST_DIGITS), cardinal))

    @cached_property
    def decimal(self) -> Expression:
        """Any number without a fraction: nobody measures three eighths of a millimeter."""
        point = choice([phrase(" ".join(way)) for way in self.point])
        return Run((self.whole, optional(Run((point, Repeat(self.digit, 1, MOST_DECIMALS))))))

    @cached_property
    def number(self) -> Expression:
        """Any number that a reading may have."""
        if not self.fractions:
            return self.decimal
        fraction = Rule("fraction", _trie_of(self.proper_fractions))
        options: list[Expression] = [self.decimal, fraction]
        if self.and_:
            joined = choice([phrase(" ".join(way)) for way in self.and_])
            articles = self.after_and.keys() - self.proper_fractions.keys()
            rest = (
                (fraction, _trie_of(dict.fromkeys(sorted(articles)))) if articles else (fraction,)
            )
            options.append(Run((self.whole, joined, choice(rest))))
        return Choice(tuple(options))

    @cached_property
    def character(self) -> Expression:
        """One digit or one letter of the spelling alphabet."""
        if not self.letters:
            return self.digit
        names = [phrase(" ".join(way)) for ways in self.letters.values() for way in ways]
        return Choice((self.digit, Rule("letter", choice(names))))

    @cached_property
    def characters(self) -> Expression:
        """A part number: characters, with separators between them if one likes."""
        if not self.separators:
            return Repeat(self.character, 1, None)
        dash = choice([phrase(" ".join(way)) for way in self.separators])
        return Run((self.character, Repeat(Run((optional(dash), self.character)), 0, None)))


def _trie_of(table: Mapping[Words, object]) -> Expression:
    by_first: dict[str, list[Words]] = {}
    for words in table:
        by_first.setdefault(words[0], []).append(words[1:])
    return _trie(by_first)


def _trie(by_first: Mapping[str, Sequence[Words]]) -> Expression:
    """Alternatives that begin with the same word share it, so that grammars stay small."""
    options: list[Expression] = []
    for first, rests in by_first.items():
        longer: dict[str, list[Words]] = {}
        for rest in rests:
            if rest:
                longer.setdefault(rest[0], []).append(rest[1:])
        if not longer:
            options.append(phrase(first))
            continue
        tail = _trie(longer)
        options.append(Run((phrase(first), optional(tail) if () in rests else tail)))
    return choice(options)


def load_numbers(text: str, file: str) -> NumberWords:
    """Read a numbers.yaml.

    Args:
        text: its content.
        file: its name, for messages.

    Raises:
        BadFile: everything that is wrong with it, with lines.
    """
    located = read_yaml(text, file)
    raw = validate(_NumbersFile, located)
    small = _small(raw)
    findings = [*_gaps(raw, small, located), *_not_single(raw, located)]
    if findings:
        raise BadFile(tuple(sorted(findings, key=lambda f: f.line)))
    return NumberWords(
        language=raw.language,
        digits={str(figure): _ways(ways) for figure, ways in sorted(raw.digits.items())},
        point=_ways(raw.point),
        and_=_ways(raw.and_),
        small=small,
        hundreds={value: normalize(words) for value, words in sorted(raw.hundreds.items())},
        thousand=normalize(raw.thousand or ""),
        minus=normalize(raw.minus or ""),
        over=normalize(raw.over or ""),
        fractions={
            denominator: (_ways(d.one), _ways(d.many), normalize(d.article or ""))
            for denominator, d in sorted(raw.fractions.items())
        },
        letters={letter: _ways(ways) for letter, ways in sorted(raw.letters.items())},
        separators=_ways(raw.separators),
    )


def _ways(ways: Sequence[str]) -> tuple[Words, ...]:
    return tuple(normalize(way) for way in ways)


def _small(raw: _NumbersFile) -> dict[int, Words]:
    """1..99 composed of ones, teens and tens; what the file lacks is missing here too."""
    small: dict[int, Words] = {}
    for value in range(1, 100):
        ten, one = value - value % 10, value % 10
        if value in raw.teens:
            small[value] = normalize(raw.teens[value])
        elif (not ten or ten in raw.tens) and (not one or one in raw.ones):
            small[value] = normalize(f"{raw.tens.get(ten, '')} {raw.ones.get(one, '')}")
    return small


def _gaps(raw: _NumbersFile, small: Mapping[int, Words], located: Located) -> list[Finding]:
    wanted: list[tuple[str, set[int], set[int]]] = [
        ("digits", set(raw.digits), set(range(10))),
        ("ones", set(raw.ones), set(range(1, 10))),
        ("tens", set(range(1, 100)) - set(small), set()),
        ("hundreds", set(raw.hundreds), set(range(100, 1000, 100))),
    ]
    found = []
    for key, have, want in wanted:
        if odd := sorted(have ^ want):
            listed = ", ".join(map(str, odd))
            message = f"{key}: the words for these are missing or not wanted here: {listed}"
            found.append(located.finding("number-gap", message, (key,)))
    for denominator, entry in raw.fractions.items():
        path: Path = ("fractions", denominator)
        if not 2 <= denominator <= 99:
            found.append(located.finding("fraction", "denominators go from 2 to 99", path))
        elif denominator > 2 and not entry.many:
            found.append(located.finding("fraction", f"{denominator} lacks `many`", path))
    for letter in raw.letters:
        if len(letter) != 1 or not ("A" <= letter <= "Z"):
            message = f'"{letter}" is not one letter from A to Z'
            found.append(located.finding("letter", message, ("letters", letter)))
    return found


def _not_single(raw: _NumbersFile, located: Located) -> list[Finding]:
    """Digit words must be one word each and mean one digit; letters must differ too."""
    found, meaning = [], dict[Words, str]()
    for key, table in (("digits", raw.digits), ("letters", raw.letters)):
        for name, ways in table.items():
            for way in _ways(ways):
                if not way or (key == "digits" and len(way) != 1):
                    message = f"{name}: a digit is said in one word, not {way}"
                    found.append(located.finding("digit-word", message, (key, name)))
                elif meaning.setdefault(way, str(name)) != str(name):
                    message = f'"{" ".join(way)}" already means {meaning[way]}, not also {name}'
                    found.append(located.finding("two-meanings", message, (key, name)))
    return found
