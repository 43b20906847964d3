"""The words by which events are known: packaged data by language, added to its lexicon of verbs."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from pydantic import Field

from assistant.checklist.tags import EventTag
from assistant.errors import BadFile, Finding
from assistant.language.located import Located, Path, read_yaml, validate
from assistant.safety.lexicon import (
    Endings,
    Lexicon,
    Meaning,
    Need,
    Strict,
    Text,
    Thing,
    VerbEntry,
    Words,
    add_verbs,
    by_first_word,
    names_of,
)


class _NeedEntry(Strict):
    with_: list[Text] = Field([], alias="with")
    unless: list[Text] = Field([])


class _ThingEntry(Strict):
    names: list[Text] = Field(min_length=1)
    verbs: dict[Text, _NeedEntry] = Field(min_length=1)
    unnamed: dict[Text, _NeedEntry] = Field({})
    states: list[Text] = Field([])
    touched: bool = False
    alone: bool = False
    another: list[Text] = Field([])


class _EventEntry(Strict):
    lookalikes: list[Text] = Field([])
    things: list[_ThingEntry] = Field(min_length=1)


class _EventEntries(Strict):
    ignition_on: _EventEntry = Field(alias="ignition-on")
    engine_start: _EventEntry = Field(alias="engine-start")
    machine_moved: _EventEntry = Field(alias="machine-moved")


class _File(Strict):
    language: Text
    verbs: dict[Text, VerbEntry]
    rolling: list[Text]
    places: list[Text]
    opposite: list[Text]
    cases: list[Text]
    never_it: list[Text]
    objectless: list[Text]
    between: list[Text]
    events: _EventEntries


@dataclass(frozen=True, slots=True)
class EventWords(Words):
    """The lexicon of events.

    Attributes:
        unnamed: by event, the verbs that bring it about on an "it" that nothing names.
        rolling: verbs with which "it" is the machine wherever one of the places is named.
        places: where only a machine is rolled to or from.
        opposite: words that end the search for what must go with a verb.
        never_it: words for which "it" never stands.
        objectless: verbs that mean the machine or its engine where nothing follows them.
        between: words that can stand between a name and its state.
    """

    unnamed: tuple[tuple[EventTag, str, Need], ...]
    rolling: frozenset[str]
    places: frozenset[str]
    opposite: frozenset[str]
    never_it: frozenset[str]
    objectless: frozenset[str]
    between: frozenset[str]


_EVENTS: Final = tuple(EventTag)


def load_event_words(text: str, file: str, base: Words) -> EventWords:
    """Read the words of a language; verbs and small words are those of its hazard lexicon.

    Raises:
        BadFile: something is missing, unknown or of the wrong kind, or a thing names a verb that
            neither this file nor the hazard lexicon has; each finding has its line.
    """
    located = read_yaml(text, file)
    raw = validate(_File, located)
    lexicon: Lexicon = defaultdict(Meaning)
    add_verbs(lexicon, raw.verbs, base.endings, work=False)
    _add_small_words(lexicon, base)
    for words in names_of(raw.cases, ()):
        lexicon[words].roles.discard("given")
        lexicon[words].roles.add("refusing")
    findings = tuple(_unknown_verbs(raw, lexicon, located))
    if findings:
        raise BadFile(tuple(sorted(findings, key=lambda f: f.line)))
    beginnings: set[str] = set()
    unnamed = []
    for event in _EVENTS:
        entry = _entry(raw, event)
        for words in names_of(entry.lookalikes, base.endings.plural):
            lexicon[words].lookalike = True
        for thing_entry in entry.things:
            thing = _thing(event, thing_entry, base.endings)
            unnamed += [(event, verb, need) for verb, need in thing.unnamed.items()]
            for words in names_of(thing_entry.names, base.endings.plural):
                lexicon[words].things.append(thing)
                beginnings.add(words[0])
    beginnings |= _forms_of({*raw.rolling, *(verb for _, verb, _ in unnamed)}, lexicon)
    return EventWords(
        raw.language,
        by_first_word(lexicon),
        frozenset(beginnings),
        base.endings,
        tuple(unnamed),
        frozenset(raw.rolling),
        frozenset(raw.places),
        frozenset(raw.opposite),
        frozenset(raw.never_it),
        frozenset(raw.objectless),
        frozenset(raw.between),
    )


def _entry(raw: _File, event: EventTag) -> _EventEntry:
    entry: _EventEntry = getattr(raw.events, event.name.lower())
    return entry


def _add_small_words(lexicon: Lexicon, base: Words) -> None:
    """The phrases of another lexicon: their roles, and their verbs where this one has none."""
    for phrases in base.phrases.values():
        for words, meaning in phrases:
            if meaning.roles or meaning.verb:
                ours = lexicon[words]
                ours.roles |= meaning.roles
                ours.verb = ours.verb or meaning.verb


def _forms_of(verbs: set[str], lexicon: Lexicon) -> set[str]:
    return {words[0] for words, m in lexicon.items() if m.verb is not None and m.verb.name in verbs}


def _thing(event: EventTag, entry: _ThingEntry, endings: Endings) -> Thing:
    return Thing(
        event,
        {verb: _need(need) for verb, need in entry.verbs.items()},
        {verb: _need(need) for verb, need in entry.unnamed.items()},
        frozenset(entry.states),
        entry.touched,
        entry.alone,
        frozenset(names_of(entry.another, endings.plural)),
    )


def _need(entry: _NeedEntry) -> Need:
    return Need(frozenset(entry.with_), frozenset(entry.unless))


def _unknown_verbs(raw: _File, lexicon: Lexicon, located: Located) -> Iterator[Finding]:
    known = {meaning.verb.name for meaning in lexicon.values() if meaning.verb is not None}
    for event in _EVENTS:
        for number, thing in enumerate(_entry(raw, event).things):
            for key, verbs in (("verbs", thing.verbs), ("unnamed", thing.unnamed)):
                for verb in verbs:
                    if verb not in known:
                        path: Path = ("events", event.value, "things", number, key, verb)
                        message = f'"{verb}" is no verb of this lexicon; add it under verbs'
                        yield located.finding("unknown-verb", message, path)
