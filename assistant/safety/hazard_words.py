"""The words by which hazard work is known: packaged data by language, read into one lexicon."""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Set
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field

from assistant.errors import BadFile, Finding
from assistant.language.located import Located, Path, read_yaml, validate
from assistant.safety.hazards import Hazard

Text = Annotated[str, Field(min_length=1, max_length=200)]

# Lists of small words that become a role of the same name.
ROLES: Final = (
    "articles", "pronouns", "owners", "side_of", "causing", "being", "modals", "adverbs",
    "joining", "relative", "particles", "mentions", "touching", "either", "refusing",
    "refusing_said", "given", "fittings",
)  # fmt: skip
_FORMS: Final = ("plain", "present", "past", "going")


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class _Endings(_Strict):
    plural: list[Text]
    present: list[Text]
    past: list[Text]
    going: list[Text]


class _VerbEntry(_Strict):
    past: list[Text] = []
    with_: list[Text] = Field([], alias="with")
    noun: bool = False


class _PartsEntry(_Strict):
    names: list[Text] = Field(min_length=1)
    body: bool = False
    only: bool = False
    verbs: list[Text] = []
    exempt: list[Text] = Field([], alias="except")
    states: list[Text] = []
    another: list[Text] = []


class _HazardEntry(_Strict):
    supplies: list[Text] = []
    lookalikes: list[Text] = []
    parts: list[_PartsEntry] = Field(min_length=1)


class _HazardEntries(_Strict):
    battery: _HazardEntry
    fuel: _HazardEntry
    brake: _HazardEntry


class _File(_Strict):
    language: Text
    endings: _Endings
    work: dict[Text, _VerbEntry]
    special: dict[Text, _VerbEntry]
    harmless: list[Text]
    articles: list[Text]
    pronouns: list[Text]
    owners: list[Text]
    side_of: list[Text]
    causing: list[Text]
    being: list[Text]
    modals: list[Text]
    adverbs: list[Text]
    joining: list[Text]
    relative: list[Text]
    particles: list[Text]
    mentions: list[Text]
    touching: list[Text]
    either: list[Text]
    refusing: list[Text]
    refusing_said: list[Text]
    given: list[Text]
    fittings: list[Text]
    hazards: _HazardEntries


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


@dataclass(slots=True)
class Meaning:
    """What one word or phrase can be."""

    roles: set[str] = field(default_factory=set)
    verb: Verb | None = None
    parts: list[Parts] = field(default_factory=list)
    lookalike: bool = False


_Lexicon = defaultdict[tuple[str, ...], Meaning]


@dataclass(frozen=True, slots=True)
class HazardWords:
    """The lexicon of one language.

    Attributes:
        phrases: by first word, each phrase with its meaning, longest first.
        beginnings: the words with which the names of parts begin.
        supplies: by hazard, what is used up in its work, as words.
    """

    language: str
    phrases: Mapping[str, tuple[tuple[tuple[str, ...], Meaning], ...]]
    beginnings: frozenset[str]
    supplies: Mapping[Hazard, frozenset[tuple[str, ...]]]


def load_hazard_words(text: str, file: str) -> HazardWords:
    """Read the words of a language.

    Raises:
        BadFile: something is missing, unknown or of the wrong kind, or a list names a verb that
            no table has; each finding has its line.
    """
    located = read_yaml(text, file)
    raw = validate(_File, located)
    findings = tuple(_wrong(raw, located))
    if findings:
        raise BadFile(tuple(sorted(findings, key=lambda f: f.line)))
    lexicon: _Lexicon = defaultdict(Meaning)
    for role in ROLES:
        for phrase in getattr(raw, role):
            endings = raw.endings.plural if role == "fittings" else []
            for words in _names([phrase], endings):
                lexicon[words].roles.add(role)
    _add_verbs(lexicon, raw)
    for hazard, entry in _hazards(raw):
        _add_parts(lexicon, raw, hazard, entry)
    first: dict[str, list[tuple[tuple[str, ...], Meaning]]] = {}
    for words, meaning in lexicon.items():
        first.setdefault(words[0], []).append((words, meaning))
    phrases = {
        word: tuple(sorted(found, key=lambda one: -len(one[0]))) for word, found in first.items()
    }
    beginnings = frozenset(words[0] for words, meaning in lexicon.items() if meaning.parts)
    supplies = {hazard: frozenset(_names(entry.supplies, ())) for hazard, entry in _hazards(raw)}
    return HazardWords(
        raw.language, MappingProxyType(phrases), beginnings, MappingProxyType(supplies)
    )


def _hazards(raw: _File) -> Iterator[tuple[Hazard, _HazardEntry]]:
    for hazard in Hazard:
        yield hazard, getattr(raw.hazards, hazard.value)


def _wrong(raw: _File, located: Located) -> Iterator[Finding]:
    """Everything that strict types can't see."""
    known = raw.work.keys() | raw.special.keys()
    for place, name in enumerate(raw.harmless):
        if name in known:
            path: Path = ("harmless", place)
            yield located.finding("two-kinds", f'"{name}" is in a table of work already', path)
    for name in raw.work.keys() & raw.special.keys():
        yield located.finding("two-kinds", f'"{name}" is under work too', ("special", name))
    yield from _unknown_particles(raw, located)
    for hazard, entry in _hazards(raw):
        for number, part in enumerate(entry.parts):
            path = ("hazards", hazard.value, "parts", number)
            yield from _unknown_verbs(part, known, located, path)


def _unknown_particles(raw: _File, located: Located) -> Iterator[Finding]:
    for table, verbs in (("work", raw.work), ("special", raw.special)):
        for name, verb in verbs.items():
            for word in verb.with_:
                if word not in raw.particles:
                    message = f'"{word}" goes with {name}; add it to the particles'
                    yield located.finding("unknown-particle", message, (table, name))


def _unknown_verbs(
    part: _PartsEntry, known: Set[str], located: Located, path: Path
) -> Iterator[Finding]:
    for key, listed in (("verbs", part.verbs), ("except", part.exempt)):
        for place, name in enumerate(listed):
            if name not in known:
                message = f'"{name}" is no verb under work or special; add it there'
                yield located.finding("unknown-verb", message, (*path, key, place))


def _names(patterns: Iterable[str], plural: Iterable[str]) -> Iterator[tuple[str, ...]]:
    """Each pattern's names as words: a bar separates words that can stand in one place."""
    for pattern in patterns:
        for chosen in itertools.product(*(place.split("|") for place in pattern.split())):
            words = tuple(word.casefold() for word in chosen)
            yield words
            for ending in plural:
                yield (*words[:-1], words[-1] + ending)


def _add_verbs(lexicon: _Lexicon, raw: _File) -> None:
    """Each verb in its forms; the first verb with a form keeps it: work goes before harmless."""
    harmless = dict.fromkeys(raw.harmless, _VerbEntry(noun=True))
    for table, work in ((raw.work, True), (raw.special, False), (harmless, False)):
        for name, entry in table.items():
            particles = frozenset(entry.with_)
            verbs = {form: Verb(name, form, work, particles, entry.noun) for form in _FORMS}
            for form, word in _forms(name, entry.past, raw.endings):
                meaning = lexicon[(word,)]
                if meaning.verb is None:
                    meaning.verb = verbs[form]


def _forms(name: str, irregular: Iterable[str], endings: _Endings) -> Iterator[tuple[str, str]]:
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


def _add_parts(lexicon: _Lexicon, raw: _File, hazard: Hazard, entry: _HazardEntry) -> None:
    for words in _names(entry.lookalikes, raw.endings.plural):
        lexicon[words].lookalike = True
    for group in entry.parts:
        parts = Parts(
            hazard,
            group.body,
            group.only,
            frozenset(group.verbs),
            frozenset(group.exempt),
            frozenset(group.states),
            frozenset(_names(group.another, raw.endings.plural)),
        )
        for words in _names(group.names, raw.endings.plural):
            lexicon[words].parts.append(parts)
