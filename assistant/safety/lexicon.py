"""The lexicon by which texts are read: verbs in their forms, names, small words, and meanings."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field

from assistant.checklist.tags import EventTag
from assistant.safety.hazards import Hazard

Text = Annotated[str, Field(min_length=1, max_length=200)]

_FORMS: Final = ("plain", "present", "past", "going")


class Strict(BaseModel):
    """A table of a packaged file, with nothing unknown in it."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class Endings(Strict):
    """What the forms of names and verbs end in."""

    plural: list[Text]
    present: list[Text]
    past: list[Text]
    going: list[Text]


class VerbEntry(Strict):
    """A verb's irregular forms, the words that go with it, and whether it is a noun too."""

    past: list[Text] = []
    with_: list[Text] = Field([], alias="with")
    noun: bool = False


@dataclass(frozen=True, slots=True)
class Parts:
    """Parts of one hazard that are worked on in the same ways.

    Attributes:
        body: large things that other things lie on or hang beside; work "on" or "from" them
            counts only when another part is named with them.
        only: nothing but `verbs` is work on them.
        verbs: verbs that are work on these parts whatever goes with them.
        exempt: verbs that only operate them.
        states: words that tell them opened or away ("with the caliper off").
        another: first words after the name that make it the name of something else, as words.
    """

    hazard: Hazard
    body: bool
    only: bool
    verbs: frozenset[str]
    exempt: frozenset[str]
    states: frozenset[str]
    another: frozenset[tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Verb:
    """A verb in one of its forms.

    Attributes:
        name: its plain form.
        form: "plain", "present", "past" or "going" (loosen, loosens, loosened, loosening).
        work: means work on any hazard's part.
        particles: one of these must go with it; empty when it stands alone.
        noun: the same word is often a noun or adjective.
    """

    name: str
    form: str
    work: bool
    particles: frozenset[str]
    noun: bool


@dataclass(frozen=True, slots=True)
class Need:
    """What must go with a verb (one of these words; any, if empty), and what must not."""

    given: frozenset[str]
    unless: frozenset[str]


@dataclass(frozen=True, slots=True)
class Thing:
    """What an event is done to: the key, the engine, the starter, the machine.

    Attributes:
        verbs: by plain form, the verbs that bring the event about.
        unnamed: verbs that do so to an "it" that nothing in the text names.
        states: words that tell that it has come about ("with the engine running").
        touched: counts after a small word too ("push on the starter").
        alone: is the event by itself where a clause begins ("Road test: two kilometers").
        another: first words after the name that make it the name of something else, as words.
    """

    event: EventTag
    verbs: Mapping[str, Need]
    unnamed: Mapping[str, Need]
    states: frozenset[str]
    touched: bool
    alone: bool
    another: frozenset[tuple[str, ...]]


@dataclass(slots=True)
class Meaning:
    """What one word or phrase can be."""

    roles: set[str] = field(default_factory=set)
    verb: Verb | None = None
    parts: list[Parts] = field(default_factory=list)
    things: list[Thing] = field(default_factory=list)
    lookalike: bool = False


Lexicon = defaultdict[tuple[str, ...], Meaning]


@dataclass(frozen=True, slots=True)
class Words:
    """The lexicon of one language.

    Attributes:
        phrases: by first word, each phrase with its meaning, longest first.
        beginnings: the words without which a text need not be read.
        endings: of names and verbs.
    """

    language: str
    phrases: Mapping[str, tuple[tuple[tuple[str, ...], Meaning], ...]]
    beginnings: frozenset[str]
    endings: Endings


def by_first_word(
    lexicon: Lexicon,
) -> Mapping[str, tuple[tuple[tuple[str, ...], Meaning], ...]]:
    """The phrases of a lexicon by their first word, longest first."""
    first: dict[str, list[tuple[tuple[str, ...], Meaning]]] = {}
    for words, meaning in lexicon.items():
        first.setdefault(words[0], []).append((words, meaning))
    return MappingProxyType(
        {word: tuple(sorted(found, key=lambda one: -len(one[0]))) for word, found in first.items()}
    )


def names_of(patterns: Iterable[str], plural: Iterable[str]) -> Iterator[tuple[str, ...]]:
    """Each pattern's names as words: a bar separates words that can stand in one place."""
    for pattern in patterns:
        for chosen in itertools.product(*(place.split("|") for place in pattern.split())):
            words = tuple(word.casefold() for word in chosen)
            yield words
            for ending in plural:
                yield (*words[:-1], words[-1] + ending)


def add_verbs(
    lexicon: Lexicon, table: Mapping[str, VerbEntry], endings: Endings, *, work: bool
) -> None:
    """Each verb of a table in its forms, where no other verb has them yet."""
    for name, entry in table.items():
        particles = frozenset(entry.with_)
        verbs = {form: Verb(name, form, work, particles, entry.noun) for form in _FORMS}
        for form, word in _forms(name, entry.past, endings):
            meaning = lexicon[(word,)]
            if meaning.verb is None:
                meaning.verb = verbs[form]


def _forms(name: str, irregular: Iterable[str], endings: Endings) -> Iterator[tuple[str, str]]:
    """The forms of a verb; some that no language has are made too, and match nothing."""
    for word in irregular:  # first: "is set" is said to be done, "is open" is not
        yield "past", word
    yield "plain", name
    stems = {name, name.removesuffix("e"), name + name[-1]}
    if name.endswith("y"):
        stems |= {name[:-1] + "i"}
    for form, endings_ in (("past", endings.past), ("going", endings.going)):
        for stem, ending in itertools.product(sorted(stems), endings_):
            yield form, stem + ending
    for ending in endings.present:
        yield "present", name + ending
