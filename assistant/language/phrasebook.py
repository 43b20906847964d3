"""The phrasebook: every intent, what it costs to mishear it, and the words for it.

A phrase is words and slots: "reading <number> <unit>". A slot is filled from a table in the
phrasebook (unit), by a rule (number, cardinal, challenge, digits, characters), or from the
state of the job (`state_slots`: the roster's names, a stop's read-back).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from assistant.errors import BadFile, Finding
from assistant.language.book import RULE_SLOTS, SPOKEN, IntentEntry, Phrasebook, Slot, parts
from assistant.language.expression import normalize
from assistant.language.intent import Cost
from assistant.language.located import Located, Path, Plain, read_yaml, validate
from assistant.language.number_words import NumberWords
from assistant.language.overlap import shared_words

__all__ = ["IntentEntry", "Phrasebook", "Slot", "extend", "load_phrasebook", "parts"]

_MOST_ADDED = 500
"""Phrases and ways that a shop may add (our choice): each is held against all others."""
_PHONES = re.compile(r"[A-Z]{1,2}(?: [A-Z]{1,2})*")
_NAME = r"^[a-z][a-z0-9]*(_[a-z0-9]+)*$"

_Text = Annotated[str, Field(min_length=1, max_length=120)]
_Texts = Annotated[list[_Text], Field(min_length=1)]
_Name = Annotated[str, Field(pattern=_NAME, max_length=40)]
_Table = Annotated[dict[_Text, _Texts], Field(min_length=1)]


class _Strict(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)


class _Entry(_Strict):
    cost: Annotated[Cost, Field(strict=False)]
    phrases: _Texts
    help: _Text


class _PhrasebookFile(_Strict):
    language: Annotated[str, Field(pattern=r"^[a-z]{2,3}$")]
    intents: Annotated[dict[_Name, _Entry], Field(min_length=1)]
    state_slots: list[_Name] = []
    slots: dict[_Name, _Table] = {}
    pronunciations: dict[_Text, _Texts] = {}
    sounds_alike: list[_Texts] = []


class _Addition(_Strict):
    language: Annotated[str, Field(pattern=r"^[a-z]{2,3}$")]
    intents: dict[_Name, _Texts] = {}
    slots: dict[_Name, _Table] = {}
    pronunciations: dict[_Text, _Texts] = {}


def load_phrasebook(text: str, file: str, numbers: NumberWords | None = None) -> Phrasebook:
    """Read a phrasebook.yaml.

    Args:
        text: its content.
        file: its name, for messages.
        numbers: the language's number words; needed as soon as a phrase has <number> or
            another slot that numbers fill.

    Raises:
        BadFile: everything that is wrong with it, with lines.
    """
    located = read_yaml(text, file)
    raw = validate(_PhrasebookFile, located)
    book = Phrasebook(
        language=raw.language,
        intents={
            name: IntentEntry(entry.cost, tuple(entry.phrases), entry.help)
            for name, entry in raw.intents.items()
        },
        slots=_tables(raw.slots),
        state_slots=frozenset(raw.state_slots),
        pronunciations={w: tuple(p) for w, p in raw.pronunciations.items()},
        numbers=numbers,
        files=(file,),
        sounds_alike=tuple(tuple(group) for group in raw.sounds_alike),
    )
    _raise(_check(book, located, located))
    return book


def extend(book: Phrasebook, text: str, file: str) -> Phrasebook:
    """The phrasebook with a shop's own phrases added to intents and slots that exist.

    The shop's file has `language`, and any of `intents: {name: [phrase, ...]}`,
    `slots: {slot: {canonical: [way, ...]}}` and `pronunciations`. The taught phrase stays.

    Raises:
        BadFile: everything that is wrong with it; words that would mean two things are named
            with both.
    """
    located = read_yaml(text, file)
    raw = validate(_Addition, located)
    _raise(list(_not_addable(book, raw, located)))
    intents = dict(book.intents)
    for name, phrases in raw.intents.items():
        intents[name] = replace(intents[name], phrases=(*intents[name].phrases, *phrases))
    slots = {slot: dict(table) for slot, table in book.slots.items()}
    for slot, table in raw.slots.items():
        for canonical, ways in table.items():
            slots[slot][canonical] = (*slots[slot].get(canonical, ()), *ways)
    longer = replace(
        book,
        intents=intents,
        slots=slots,
        pronunciations={
            **book.pronunciations,
            **{w: tuple(p) for w, p in raw.pronunciations.items()},
        },
        files=(*book.files, file),
    )
    _raise(_check(longer, located, None))
    return longer


def _not_addable(book: Phrasebook, raw: _Addition, located: Located) -> Iterator[Finding]:
    """What can't be added to this phrasebook, however it is said."""
    if raw.language != book.language:
        message = f"language is {raw.language}, the phrasebook's is {book.language}"
        yield located.finding("language", message, ("language",))
    for key, known in (("intents", book.intents), ("slots", book.slots)):
        for name in raw.intents if key == "intents" else raw.slots:
            if name not in known:
                message = f'no {key.rstrip("s")} "{name}" to add to; one of: {", ".join(known)}'
                yield located.finding("unknown-name", message, (key, name))
    ways = [way for table in raw.slots.values() for each in table.values() for way in each]
    added = len(ways) + sum(map(len, raw.intents.values()))
    if added > _MOST_ADDED:
        message = f"{added} phrases and ways; up to {_MOST_ADDED} can be told apart in a shop"
        yield located.finding("too-many", message)
    for name in raw.intents:
        if name in book.intents and book.intents[name].cost is Cost.READ_BACK:
            message = f"the words of {name} are the safety stops' own; nothing is added to them"
            yield located.finding("read-back", message, ("intents", name))


def _tables(
    raw: Mapping[str, Mapping[str, list[str]]],
) -> dict[str, dict[str, tuple[str, ...]]]:
    return {
        slot: {canonical: tuple(ways) for canonical, ways in table.items()}
        for slot, table in raw.items()
    }


def _raise(findings: list[Finding]) -> None:
    if findings:
        raise BadFile(tuple(sorted(findings, key=lambda f: f.line)))


def _check(book: Phrasebook, located: Located, whole: Located | None) -> list[Finding]:
    """Everything that strict types can't see. `whole` is None for a shop's addition."""
    found = [*_bad_phrases(book, located), *_bad_ways(book, located)]
    for word, phones in book.pronunciations.items():
        if len(normalize(word)) != 1 or not all(map(_PHONES.fullmatch, phones)):
            message = f'"{word}": one word and ARPABET phones are wanted, like JH UW L IY EH T'
            found.append(located.finding("pronunciation", message, ("pronunciations", word)))
    found += _bad_groups(book, located)
    if whole is not None:
        for slot in book.state_slots & (RULE_SLOTS | book.slots.keys()):
            message = f'"{slot}" is filled already, it can\'t be a state slot too'
            found.append(whole.finding("state-slot", message, ("state_slots",)))
        for slot in RULE_SLOTS & book.slots.keys():
            message = f'"{slot}" is a rule of its own; give this slot another name'
            found.append(whole.finding("slot-name", message, ("slots", slot)))
    return found or _two_meanings(book, located)


def _bad_groups(book: Phrasebook, located: Located) -> Iterator[Finding]:
    seen: set[str] = set()
    for number, group in enumerate(book.sounds_alike):
        for word in group:
            if normalize(word) != (word,) or word in seen:
                message = f'"{word}": single words are wanted, each in one group'
                yield located.finding("sounds-alike", message, ("sounds_alike", number))
            seen.add(word)


def _bad_phrases(book: Phrasebook, located: Located) -> Iterator[Finding]:
    known = RULE_SLOTS | book.slots.keys() | book.state_slots
    places = {said: path for path, said in _texts(located)}
    for name, entry in book.intents.items():
        for number, text in enumerate(entry.phrases):
            path: Path = ("intents", name, "phrases", number)
            if path not in located.lines:  # a shop's file, which adds to it
                path = places.get(text, ("intents", name))
            try:
                slots = [part.name for part in parts(text) if isinstance(part, Slot)]
            except ValueError as error:
                yield located.finding("phrase", f"{name}: {error}", path)
                continue
            for slot in slots:
                if slot not in known:
                    listed = ", ".join(sorted(known))
                    message = f'{name}: "{text}" has no slot <{slot}> to use; one of: {listed}'
                    yield located.finding("unknown-slot", message, path)
                elif slot in RULE_SLOTS and book.numbers is None:
                    message = (
                        f'{name}: "{text}" needs number words; load it with the numbers.yaml '
                        f"of its language (load_numbers)"
                    )
                    yield located.finding("no-numbers", message, path)
            if len(set(slots)) < len(slots):
                message = f'{name}: "{text}" uses a slot twice; each may stand once'
                yield located.finding("slot-twice", message, path)


def _texts(located: Located) -> Iterator[tuple[Path, str]]:
    """Every text in a list of the file, and where it stands: phrases and ways."""
    waiting: list[tuple[Path, Plain]] = [((), located.value)]
    while waiting:
        path, value = waiting.pop()
        if isinstance(value, dict):
            waiting.extend(((*path, key), inner) for key, inner in value.items())
        elif isinstance(value, list):
            for number, inner in enumerate(value):
                if isinstance(inner, str):
                    yield (*path, number), inner


def _bad_ways(book: Phrasebook, located: Located) -> Iterator[Finding]:
    for slot, table in book.slots.items():
        meaning: dict[tuple[str, ...], str] = {}
        for canonical, ways in table.items():
            path = ("slots", slot, canonical)
            for way in ways:
                words = normalize(way)
                if not all(SPOKEN.fullmatch(word) for word in way.split()) or not words:
                    message = f'{slot}, {canonical}: "{way}" must be words as they are spoken'
                    yield located.finding("way", message, path)
                elif meaning.setdefault(words, canonical) != canonical:
                    message = (
                        f'{slot}: "{way}" would mean both {meaning[words]} and {canonical}; '
                        f"use other words for one of them"
                    )
                    yield located.finding("two-meanings", message, path)


def _two_meanings(book: Phrasebook, located: Located) -> list[Finding]:
    found = []
    for first, second, words in shared_words(book):
        message = f'"{words}" would mean both {first} and {second}; use other words for one of them'
        lines = [located.line(path) for path, said in _texts(located) if _same(said, words)]
        named = [located.line(("intents", name)) for name in (first, second)]
        line = max(lines or named)
        found.append(Finding("error", "two-meanings", located.file, line, message))
    return found


def _same(said: str, words: str) -> bool:
    """Whether a phrase or way is exactly these words."""
    return " ".join(normalize(said)) == words
