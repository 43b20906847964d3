"""Asks a person for takes of the phrases that matter, and again for those that can't be used."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from assistant.hearing.ear import Ear, Heard, Nothing
from assistant.hearing.engines import Engine
from assistant.hearing.engines.unhurried import Unhurried
from assistant.hearing.enrollment.folder import VoiceFolder
from assistant.hearing.enrollment.quality import fault_of
from assistant.hearing.lines import Grammar
from assistant.hearing.masking import Unmasked
from assistant.hearing.source import Source
from assistant.language.book import Phrasebook
from assistant.language.intent import Cost
from assistant.soundcheck.run import PATIENCE_S

ROUNDS: Final = 2
"""Takes of each phrase, all phrases once and then again: people say a word alike twice in a row."""

TRIES: Final = 3
"""After so many takes that can't be used the next phrase is asked for (common practice)."""

QUESTIONS: Final = ("say_again", "what_size", "what_torque", "what_next", "where_are_we")
"""Questions that are asked often (common practice, no source)."""

Ask = Callable[[str, str], None]
"""Shows and says a phrase, with why it is asked for again: "" at the first time."""


def phrases_to_enroll(book: Phrasebook) -> tuple[str, ...]:
    """What is taught for each fixed command and confirmation, and a few questions."""
    wanted = (Cost.CONFIRMATION, Cost.CONTROL)
    return tuple(
        entry.phrases[0]
        for name, entry in book.intents.items()
        if (entry.cost in wanted or name in QUESTIONS) and "<" not in entry.phrases[0]
    )


def record_takes(  # noqa: PLR0913, PLR0917 - the parts of an enrollment
    source: Source,
    engine: Engine,
    grammar: Grammar,
    phrases: Sequence[str],
    folder: VoiceFolder,
    ask: Ask,
) -> bool:
    """Record what is missing of each phrase; what is kept stays kept however this ends.

    Args:
        source: the microphone; it stays open.
        engine: tells when another phrase was said than the one that was asked for.
        grammar: what that other phrase may be.
        phrases: which are asked for.
        folder: takes the takes; those that are there already are not asked for.
        ask: called with the ear shut, so that it may speak.

    Returns:
        Whether there are `ROUNDS` takes of each phrase now.

    Raises:
        BadInput: a take can't be kept.
        UnknownWords: the engine doesn't know a word of the grammar.
    """
    # A take needs the room after it too, so nothing is decided early.
    ear = Ear(source, Unhurried(engine), masking=Unmasked())
    for wanted in range(1, ROUNDS + 1):
        for phrase in phrases:
            if folder.count(phrase) < wanted and not _take(ear, grammar, folder, phrase, ask):
                return False
    return all(folder.count(phrase) >= ROUNDS for phrase in phrases)


def _take(ear: Ear, grammar: Grammar, folder: VoiceFolder, phrase: str, ask: Ask) -> bool:
    """Ask until a take can be used or patience is over; False when there is no more sound."""
    fault = ""
    for _ in range(TRIES):
        ear.deafen()
        try:
            ask(phrase, fault)
        finally:
            ear.listen_again()
        heard = ear.hear(grammar, PATIENCE_S)
        if isinstance(heard, Nothing):
            if heard.reason in {"ended", "lost", "dead"}:
                return False
            fault = "nothing was heard"
            continue
        fault = _fault(heard, phrase)
        if not fault:
            folder.add(phrase, heard.clip)
            return True
    return True


def _fault(heard: Heard, phrase: str) -> str:
    fault = fault_of(heard.clip)
    if not fault and heard.intent is not None and heard.text != phrase:
        return f'that sounded like "{heard.text}"'
    return fault
