"""The words by which hazard work is known: packaged data by language, read into one lexicon."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Set
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final

from pydantic import Field

from assistant.errors import BadFile, Finding
from assistant.language.located import Located, Path, read_yaml, validate
from assistant.safety.hazards import Hazard
from assistant.safety.lexicon import (
    Endings,
    Lexicon,
    Meaning,
    Parts,
    Strict,
    Text,
    VerbEntry,
    Words,
    add_verbs,
    by_first_word,
    names_of,
)

# Lists of small words that become a role of the same name.
ROLES: Final = (
    "articles", "pronouns", "owners", "side_of", "causing", "being", "modals", "adverbs",
    "joining", "relative", "particles", "mentions", "touching", "either", "refusing",
    "refusing_said", "given", "fittings",
)  # fmt: skip


class _PartsEntry(Strict):
    names: list[Text] = Field(min_length=1)
    body: bool = False
    only: bool = False
    verbs: list[Text] = Field([])
    exempt: list[Text] = Field([], alias="except")
    states: list[Text] = Field([])
    another: list[Text] = Field([])


class _HazardEntry(Strict):
    supplies: list[Text] = Field([])
    lookalikes: list[Text] = Field([])
    parts: list[_PartsEntry] = Field(min_length=1)


class _HazardEntries(Strict):
    battery: _HazardEntry
    fuel: _HazardEntry
    brake: _HazardEntry


class _File(Strict):
    language: Text
    endings: Endings
    work: dict[Text, VerbEntry]
    special: dict[Text, VerbEntry]
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
class HazardWords(Words):
    """The lexicon of hazard work.

    Attributes:
        supplies: by hazard, what is used up in its work, as words.
    """

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
    lexicon: Lexicon = defaultdict(Meaning)
    for role in ROLES:
        for phrase in getattr(raw, role):
            endings = raw.endings.plural if role == "fittings" else []
            for words in names_of([phrase], endings):
                lexicon[words].roles.add(role)
    _add_verbs(lexicon, raw)
    for hazard, entry in _hazards(raw):
        _add_parts(lexicon, raw, hazard, entry)
    beginnings = frozenset(words[0] for words, meaning in lexicon.items() if meaning.parts)
    supplies = {hazard: frozenset(names_of(entry.supplies, ())) for hazard, entry in _hazards(raw)}
    return HazardWords(
        raw.language, by_first_word(lexicon), beginnings, raw.endings, MappingProxyType(supplies)
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


def _add_verbs(lexicon: Lexicon, raw: _File) -> None:
    """Each verb in its forms; the first verb with a form keeps it: work goes before harmless."""
    harmless = dict.fromkeys(raw.harmless, VerbEntry(noun=True))
    for table, work in ((raw.work, True), (raw.special, False), (harmless, False)):
        add_verbs(lexicon, table, raw.endings, work=work)


def _add_parts(lexicon: Lexicon, raw: _File, hazard: Hazard, entry: _HazardEntry) -> None:
    for words in names_of(entry.lookalikes, raw.endings.plural):
        lexicon[words].lookalike = True
    for group in entry.parts:
        parts = Parts(
            hazard,
            group.body,
            group.only,
            frozenset(group.verbs),
            frozenset(group.exempt),
            frozenset(group.states),
            frozenset(names_of(group.another, raw.endings.plural)),
        )
        for words in names_of(group.names, raw.endings.plural):
            lexicon[words].parts.append(parts)
