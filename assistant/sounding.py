"""What of a checklist or a shop sounds too much alike, or is part of another phrase."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from functools import cache
from importlib.util import find_spec
from pathlib import Path

from assistant import packaged
from assistant.checklist.expand import candidates
from assistant.checklist.loader import Loaded
from assistant.errors import EngineUnavailable, Finding
from assistant.job.table import TABLE
from assistant.language.book import Phrasebook
from assistant.language.confusion import Dictionary, alike, fixed_phrases, read_dictionary, with_own
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.pattern import Fillers
from assistant.trade.quantity import unit_named

_ALIKE, _PART = "sounds-alike", "part-of-a-phrase"


@cache
def dictionary_text() -> str:
    """The pronouncing dictionary of American English that comes with PocketSphinx.

    Raises:
        EngineUnavailable: the package is missing.
    """
    found = find_spec("pocketsphinx")
    if found is None or found.origin is None:
        raise EngineUnavailable(
            "pocketsphinx is missing; install it with: pip install pocketsphinx"
        )
    path = Path(found.origin).parent / "model" / "en-us" / "cmudict-en-us.dict"
    return path.read_text(encoding="utf-8")


def dictionary_for(grammar: Grammar) -> Dictionary:
    """The pronunciations of a grammar's words; empty for another language than English."""
    if not grammar.language.startswith("en"):
        return {}
    known = read_dictionary(dictionary_text(), grammar.words())
    return with_own(known, grammar.pronunciations)


def grammars(book: Phrasebook, roster: Mapping[str, str]) -> Iterator[tuple[str, Grammar]]:
    """What may be said in each state of a job, by the state's name.

    Phrases that only a job fills in, and that neither stops nor roster do, are left out.
    """
    filled = _fillers(book, roster)
    states: dict[str, set[str]] = {}
    for mode, intent in TABLE:
        if intent in book.sayable(filled):
            states.setdefault(mode.value, set()).add(intent)
    for state, names in states.items():
        yield state, build_grammar(book, names, filled)


def _fillers(book: Phrasebook, roster: Mapping[str, str]) -> Fillers:
    stops = packaged.stop_texts(book.language)
    names = {person: (name.lower(),) for person, name in roster.items()}
    read_backs = stops.read_backs()
    return {"read_back": read_backs, **({"name": names} if names else {})}


def roster_findings(book: Phrasebook, roster: Mapping[str, str], file: str) -> Iterator[Finding]:
    """Names that can't be told apart by ear, where somebody is handed over to."""
    if len(roster) < 2:
        return
    grammar = build_grammar(book, ["hand_over"], _fillers(book, roster))
    yield from _findings(grammar, None, file)


def wrench_findings(book: Phrasebook, names: Collection[str], file: str) -> Iterator[Finding]:
    """Torque wrenches that can't be told apart by ear, when one is taken in hand."""
    if len(names) < 2:
        return
    called = {"wrench": {name: (name.lower(),) for name in names}}
    yield from _findings(build_grammar(book, ["use_wrench"], called), None, file)


def addition_findings(
    book: Phrasebook, added: Phrasebook, roster: Mapping[str, str], file: str
) -> Iterator[Finding]:
    """What a shop's own phrases collide with, in any state of a job.

    Args:
        book: as it came.
        added: the same with the shop's additions.
        roster: id -> name.
        file: where the additions stand.
    """
    before = dict(grammars(book, roster))
    seen: set[Finding] = set()
    for state, grammar in grammars(added, roster):
        for finding in _findings(grammar, before.get(state), file):
            if finding not in seen:
                seen.add(finding)
                yield finding


def _findings(grammar: Grammar, before: Grammar | None, file: str) -> Iterator[Finding]:
    """What collides here and did not before."""
    phrases = fixed_phrases(grammar.patterns)
    known = fixed_phrases(before.patterns) if before is not None else {}
    for pair in alike(phrases, dictionary_for(grammar), phrases.keys() - known.keys()):
        yield Finding("warning", _ALIKE, file, 0, f"{pair}; choose other words")
    old = set(before.collisions()) if before is not None else set()
    for collision in grammar.collisions():
        if collision in old:
            continue
        message = f"{collision}; choose other words, or it is decided only after silence"
        yield Finding("warning", _PART, file, 0, message)


@cache
def _dictionary_of_readings(language: str) -> Dictionary:
    return dictionary_for(build_grammar(packaged.phrasebook(language), ["reading"]))


def unit_findings(loaded: Loaded) -> Iterator[Finding]:
    """Units asked for in one step that can't be told apart by ear."""
    book = packaged.phrasebook(loaded.checklist.language)
    units = book.slots.get("unit", {})
    for placed in (candidate.planned for candidate in candidates(loaded)):
        asked = {reading.unit for reading in placed.step.readings}
        kinds = {unit_named(symbol).dimension for symbol in asked}
        active = {s: ways for s, ways in units.items() if unit_named(s).dimension in kinds}
        if len(active) < 2:
            continue
        spoken = {tuple(way.split()): (s,) for s, ways in active.items() for way in ways}
        for pair in alike(spoken, _dictionary_of_readings(book.language)):
            message = f"{placed.id}: {pair}; ask for these readings in steps of their own"
            yield Finding("warning", _ALIKE, placed.file, placed.line, message)
