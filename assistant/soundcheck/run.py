"""Listens: first to the room alone, then to a few phrases; or to a recording of both."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final

from assistant.hearing.ear import Ear, Heard, Nothing
from assistant.hearing.engines import Engine
from assistant.hearing.masking import Unmasked
from assistant.hearing.source import FileSource, Source
from assistant.language.book import Phrasebook
from assistant.language.grammar import Grammar, build_grammar
from assistant.soundcheck.measure import Measured, Meter, Tried, is_clipped, level_of, summed_up

ROOM_S: Final = 5.0
PATIENCE_S: Final = 8.0
TRIED_INTENTS: Final = ("step_done", "what_torque", "stand_by", "freeze", "where_are_we", "affirm")
"""Intents whose first phrase is tried: long and short ones, asked and confirming."""


def grammar_of(book: Phrasebook) -> Grammar:
    """All that needs nothing of a job: as many phrases to be confused with as a job has."""
    names = {name for name, entry in book.intents.items() if not _needs_job(book, entry.phrases)}
    return build_grammar(book, names)


def _needs_job(book: Phrasebook, phrases: Sequence[str]) -> bool:
    return any(f"<{slot}>" in phrase for slot in book.state_slots for phrase in phrases)


def listen_to_person(
    source: Source, engine: Engine, book: Phrasebook, ask: Callable[[str], None]
) -> Measured:
    """Measure a place with somebody in it.

    Args:
        source: the microphone; it stays open.
        engine: the recogniser.
        book: whose phrases are tried.
        ask: shows the phrase to be said, "" for silence.
    """
    meter = Meter(source)
    ear = Ear(meter, engine, masking=Unmasked())
    grammar = grammar_of(book)
    ask("")
    began: list[Tried] = []
    while ear.now_s < ROOM_S:
        heard = ear.hear(grammar, ROOM_S - ear.now_s)
        if isinstance(heard, Heard):  # not asked for: only kept out of the noise
            began.append(_tried(heard))
        elif heard.reason in ("ended", "lost"):
            break
    asked = []
    for intent in TRIED_INTENTS:
        phrase = book.intents[intent].phrases[0]
        ask(phrase)
        heard = ear.hear(grammar, PATIENCE_S)
        if isinstance(heard, Nothing) and heard.reason in ("ended", "lost"):
            break
        if isinstance(heard, Heard):
            asked.append(_tried(heard, intent, phrase))
        else:
            asked.append(Tried(phrase, "", False, ear.now_s, ear.now_s, None, False))
    measured = summed_up(meter, [*began, *asked])
    return _only(measured, asked)


def listen_to_file(path: Path, engine: Engine, book: Phrasebook) -> Measured:
    """Measure a place from a recording of the room and of any phrases of the phrasebook.

    Raises:
        AudioUnavailable: the file can't be read.
    """
    meter = Meter(FileSource(path, tail_s=0.0))
    ear = Ear(meter, engine, masking=Unmasked())
    grammar = grammar_of(book)
    tried = []
    while True:
        heard = ear.hear(grammar)
        if isinstance(heard, Heard):
            tried.append(_tried(heard))
        elif heard.reason == "ended":
            return summed_up(meter, tried)


def _tried(heard: Heard, intent: str = "", phrase: str = "") -> Tried:
    """An utterance, judged by the intent that was asked for, or by any when none was."""
    meant = heard.intent.name if heard.intent is not None else ""
    return Tried(
        wanted=phrase,
        heard=heard.text,
        understood=meant == intent if intent else bool(meant),
        began_s=heard.began_s,
        ended_s=heard.ended_s,
        level_dbfs=level_of(heard.clip),
        clipped=is_clipped(heard.clip),
    )


def _only(measured: Measured, tried: Sequence[Tried]) -> Measured:
    return replace(measured, tried=tuple(tried))
