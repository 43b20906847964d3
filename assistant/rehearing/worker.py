"""Hearing a batch of clips again; runs in a process of its own, here or on another machine."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, Protocol, runtime_checkable

from assistant import __version__, packaged
from assistant.engines import open_engine
from assistant.errors import BadInput, EngineUnavailable
from assistant.hearing.acceptance import judge, shipped_bars
from assistant.hearing.engines import Engine
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.intent import Cost
from assistant.rehearing.asked import Phrases, outcome

_PIECE: Final = 3200
"""Bytes fed at once: a tenth of a second, as a microphone gives it."""
NOT_HEARABLE: Final = "not hearable"
"""Verdict where the engine lacks a word of a phrase that was admitted then."""


@runtime_checkable
class _Adapts(Protocol):
    """An engine that learns from utterances; here each is heard as if it were the first."""

    def forget(self) -> None:
        """Drop what was learned."""


@dataclass(frozen=True, slots=True)
class Told:
    """What a worker made of a batch, and with what.

    Attributes:
        made: one outcome a clip, in order.
    """

    made: list[dict[str, Any]]
    engine: str
    model: str
    program: str


@cache
def engine_named(name: str) -> Engine:
    """The recogniser, loaded once a process.

    Raises:
        BadInput: no such engine or model.
        EngineUnavailable: it can't be loaded here.
    """
    return open_engine(name)


def hear_batch(name: str, batch: Sequence[tuple[Phrases, bytes]]) -> Told:
    """Hear clips among the phrases of their moment, each as if nothing had been heard before.

    So a result depends neither on the order nor on which process heard it. How loud the room was
    is not in a record: the verdict goes without signal-to-noise ratio, and nothing is passed over
    as too far off.

    Args:
        name: of the engine, as the command line names it.
        batch: phrases, and 16 kHz mono s16le.

    Raises:
        BadInput: no such engine or model.
        EngineUnavailable: it can't be loaded here.
    """
    engine = engine_named(name)
    made = [_heard(engine, phrases, pcm) for phrases, pcm in batch]
    return Told(made, engine.name, engine.model, __version__)


def _heard(engine: Engine, phrases: Phrases, pcm: bytes) -> dict[str, Any]:
    grammar = grammar_of(phrases)
    if isinstance(engine, _Adapts):
        engine.forget()
    try:
        engine.use(grammar)
    except EngineUnavailable as error:  # words that it lacks: this moment only
        return {**outcome("", None, (), NOT_HEARABLE), "why": str(error), "confidence": 0.0}
    engine.start()
    for first in range(0, len(pcm), _PIECE):
        engine.feed(pcm[first : first + _PIECE])
    found = engine.finish()
    intent = grammar.match(found.text) if found.text else None
    cost = grammar.cost_of(intent.name) if intent else Cost.QUESTION
    judged = judge(shipped_bars()[engine.name], found, intent, cost, None)
    slots = intent.slots if intent else ()
    made = outcome(found.text, intent.name if intent else None, slots, judged.verdict)
    return {**made, "why": judged.why, "confidence": round(found.confidence, 4)}


_grammars: dict[Phrases, Grammar] = {}
_MOST_GRAMMARS: Final = 256


def grammar_of(phrases: Phrases) -> Grammar:
    """The grammar of these phrases, compiled once for each; the last few hundred are kept."""
    made = _grammars.get(phrases)
    if made is None:
        filled = {slot: dict(values) for slot, values in phrases.filled}
        try:
            made = build_grammar(
                packaged.phrasebook(phrases.language),
                phrases.names,
                filled,
                fractions=phrases.fractions,
            )
        except BadInput as error:
            msg = f"the phrases of a moment can't be built anew: {error}"
            raise EngineUnavailable(msg) from error
        if len(_grammars) >= _MOST_GRAMMARS:
            _grammars.pop(next(iter(_grammars)))
        _grammars[phrases] = made
    return made
