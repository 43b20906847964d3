"""How one language says what is written short: units, abbreviations, signs, ordinals."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field

from assistant.errors import BadFile, Finding
from assistant.language.located import Located, Path, read_yaml, validate
from assistant.language.number_words import NumberWords

PAUSES: Final = ".,?!;:"
SPEAKABLE: Final = frozenset(" '-" + PAUSES)

_Text = Annotated[str, Field(min_length=1, max_length=60)]


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class UnitWords(_Strict):
    """The names of one unit.

    Attributes:
        alone: whether the symbol is a unit even where no number stands before it.
    """

    one: _Text
    many: _Text
    also: tuple[_Text, ...] = Field((), strict=False)
    alone: bool = True


class _WordingFile(_Strict):
    language: Annotated[str, Field(pattern=r"^[a-z]{2,3}$")]
    units: Annotated[dict[_Text, UnitWords], Field(min_length=1)]
    singular_before: list[_Text] = []
    adjectives: list[_Text] = []
    inch_before: list[_Text] = []
    unit_after: list[_Text] = []
    words: dict[_Text, _Text] = {}
    before_number: dict[_Text, _Text] = {}
    plain_words: list[_Text] = []
    between: dict[_Text, _Text]
    before: dict[_Text, _Text]
    signs: dict[_Text, _Text] = {}
    dash_after: list[_Text] = []
    spelled_after: list[_Text] = []
    ordinals: dict[int, _Text] = {}
    vowels: str = ""


@dataclass(frozen=True)
class Wording:
    """The table that `for_ear` reads from; see wording.yaml for what each part is for.

    Attributes:
        units: every spelling of a unit: its names.
    """

    language: str
    numbers: NumberWords
    units: Mapping[str, UnitWords]
    singular_before: frozenset[str]
    adjectives: frozenset[str]
    inch_before: frozenset[str]
    unit_after: frozenset[str]
    words: Mapping[str, str]
    before_number: Mapping[str, str]
    plain_words: frozenset[str]
    between: Mapping[str, str]
    before: Mapping[str, str]
    signs: Mapping[str, str]
    dash_after: tuple[str, ...]
    spelled_after: tuple[str, ...]
    ordinals: Mapping[int, str]
    vowels: frozenset[str]

    @cached_property
    def unit_pattern(self) -> re.Pattern[str]:
        """A unit directly after a number, perhaps with a space or hyphen between."""
        return re.compile(rf"(?P<join> ?|-)(?P<unit>{_either(self.units)})(?![^\W_])")

    @cached_property
    def alone_pattern(self) -> re.Pattern[str]:
        """A unit that stands without a number."""
        free = [s for s, unit in self.units.items() if unit.alone and " " not in s]
        return re.compile(rf"(?P<unit>{_either(free)})(?![^\W_])")

    @cached_property
    def named_pattern(self) -> re.Pattern[str]:
        """Any unit at the end of a phrase."""
        return re.compile(rf"(?P<unit>{_either(self.units)})(?=[.;:?!)]|$)")

    @cached_property
    def word_pattern(self) -> re.Pattern[str]:
        """An entry of `words` as a whole word."""
        return re.compile(rf"(?:{_either(self.words)})(?![^\W_]|['’][^\W\d_])")

    @cached_property
    def before_number_pattern(self) -> re.Pattern[str]:
        """An entry of `before_number` with a figure after it."""
        return re.compile(rf"(?:{_either(self.before_number)})(?= ?[0-9])")

    @cached_property
    def before_pattern(self) -> re.Pattern[str]:
        """A sign in front of a number."""
        return re.compile(rf"(?:{_either(self.before)})(?= ?\.?[0-9])")


def _either(texts: Iterable[str]) -> str:
    """A pattern for any of these, the longest first; one that nothing matches when empty."""
    longest = sorted(texts, key=len, reverse=True)
    return "|".join(re.escape(text) for text in longest) or r"(?!)"


def load_wording(text: str, file: str, numbers: NumberWords) -> Wording:
    """Read a wording.yaml.

    Args:
        text: its content.
        file: its name, for messages.
        numbers: the number words of the same language.

    Raises:
        BadFile: everything that is wrong with it, with lines.
    """
    located = read_yaml(text, file)
    raw = validate(_WordingFile, located)
    findings = _unspeakable(raw, located)
    if raw.language != numbers.language:
        message = f"language is {raw.language}, the number words are {numbers.language}"
        findings.append(located.finding("language", message, ("language",)))
    units: dict[str, UnitWords] = {}
    for symbol, unit in raw.units.items():
        for spelling in (symbol, *unit.also):
            if spelling in units:
                message = f'"{spelling}" is already another unit'
                findings.append(located.finding("unit-twice", message, ("units", symbol)))
            units[spelling] = unit
    if findings:
        raise BadFile(tuple(sorted(findings, key=lambda f: f.line)))
    return Wording(
        language=raw.language,
        numbers=numbers,
        units=units,
        singular_before=frozenset(raw.singular_before),
        adjectives=frozenset(raw.adjectives),
        inch_before=frozenset((*raw.inch_before, *raw.singular_before, *raw.adjectives)),
        unit_after=frozenset(raw.unit_after),
        words=_also_capital(raw.words),
        before_number=_also_capital(raw.before_number),
        plain_words=frozenset(raw.plain_words),
        between=raw.between,
        before=raw.before,
        signs=raw.signs,
        dash_after=_as_said(raw.dash_after),
        spelled_after=_as_said(raw.spelled_after),
        ordinals=raw.ordinals,
        vowels=frozenset(raw.vowels),
    )


def _as_said(words: Iterable[str]) -> tuple[str, ...]:
    """Words as they have been said when they are looked for: ISO was said letter by letter."""
    return tuple((" ".join(w) if w.isupper() else w).casefold() for w in words)


def _also_capital(table: Mapping[str, str]) -> dict[str, str]:
    """Entries that begin small, as they look at the beginning of a sentence too."""
    capital = {k[0].upper() + k[1:]: v[0].upper() + v[1:] for k, v in table.items()}
    return capital | dict(table)


def speakable(text: str) -> bool:
    """Whether the text has nothing but letters, spaces and the marks of a pause."""
    return all(sign.isalpha() or sign in SPEAKABLE for sign in text)


def _unspeakable(raw: _WordingFile, located: Located) -> list[Finding]:
    """Words in the table that would themselves need the table."""
    said: list[tuple[Path, str]] = []
    for name, table in (
        ("words", raw.words),
        ("before_number", raw.before_number),
        ("between", raw.between),
        ("before", raw.before),
    ):
        said.extend(((name, key), words) for key, words in table.items())
    said.extend((("ordinals", number), words) for number, words in raw.ordinals.items())
    for symbol, unit in raw.units.items():
        said.extend((("units", symbol), words) for words in (unit.one, unit.many))
    return [
        located.finding("not-words", f'"{words}" must be words, spelled as they are said', path)
        for path, words in said
        if not speakable(words)
    ]
