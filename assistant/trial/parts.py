"""The parts of our hearing path, each as a way to do without it.

rejection       everything that is a phrase is acted on, whatever the evidence
early-decision  an utterance ends after the long silence only
endpointing     the library's endpointer cuts utterances, engine and acceptance are ours
voice-activity  WebRtc's detector (in PocketSphinx) in place of Silero's
variation       one hearing of the whole utterance in place of several, weighed like an early
                look where a Vosk model hears
floor           PocketSphinx gets no noise floor under the sound
masking         the ear never says that noise masks speech, nor that somebody is far off
second-opinion  the pair's Vosk model alone, with the weights and bars of confidence that were
                fitted for it alone
n-best          only the Vosk model's first text counts, as if nothing else fitted at all
one-spelling    words that sound alike all stand in the Vosk model's list
word-pairs      the Vosk model's list holds the words of numbers and names one by one, not the
                pairs that are admitted
"""

from __future__ import annotations

import atexit
import math
from collections.abc import Callable, Mapping
from dataclasses import fields, replace
from functools import cache, cached_property
from typing import Any, Final

from assistant.engines import PAIR, POCKETSPHINX, VOSK, open_engine
from assistant.errors import BadInput
from assistant.hearing.acceptance import Bar, EngineBars, shipped_bars
from assistant.hearing.engines import Engine
from assistant.hearing.engines.unhurried import Unhurried
from assistant.language.grammar import Grammar
from assistant.language.intent import Cost
from assistant.language.notation import phrase_list
from assistant.language.pattern import Filled, Pattern

PARTS: Final = (
    "rejection",
    "early-decision",
    "endpointing",
    "voice-activity",
    "variation",
    "floor",
    "masking",
    "second-opinion",
    "n-best",
    "one-spelling",
    "word-pairs",
)

_VOSK_S: Final = frozenset({"n-best", "one-spelling", "word-pairs"})
"""What only a Vosk model has, alone or in the pair."""

_NO_FLOOR_DB: Final = 200.0
"""A noise floor so far under the speech is less than the last bit."""

ChangeGrammar = Callable[[Grammar], Grammar]


@cache
def opened(name: str) -> Engine:
    """The engine as it is, opened once a process."""
    return open_engine(name)


@cache
def engine_without(name: str, part: str | None) -> Engine:
    """The engine without a part, opened once a process.

    Raises:
        BadInput: it has no such part.
    """
    kind = name.partition(":")[0]
    _refuse(name, part, other=part in _VOSK_S and kind not in {VOSK, PAIR})
    if part == "early-decision":
        return Unhurried(opened(name))
    make = _MADE.get((kind, part or ""))
    _refuse(name, part, other=make is None and part in {each for _, each in _MADE})
    return opened(name) if make is None else make(opened(name))


# Vosk's own destructors need its module, so recognizers must go before the interpreter does.
atexit.register(opened.cache_clear)
atexit.register(engine_without.cache_clear)


def _refuse(name: str, part: str | None, *, other: bool) -> None:
    if other:
        raise BadInput(f"--without {part}: {name} has no such part")


def _sphinx_once(_opened: Any) -> Engine:  # noqa: ANN401 - the engine's own kind
    from assistant.hearing.engines.pocketsphinx_engine import (  # noqa: PLC0415 - 0.2 s to load
        WAYS,
        PocketSphinxEngine,
    )

    return PocketSphinxEngine(WAYS[:1])


def _sphinx_no_floor(_opened: Any) -> Engine:  # noqa: ANN401 - as above
    from assistant.hearing.engines.pocketsphinx_engine import (  # noqa: PLC0415 - as above
        WAYS,
        PocketSphinxEngine,
    )

    return PocketSphinxEngine([(pace, _NO_FLOOR_DB) for pace, _ in WAYS])


def _vosk(engine: Any, **given: Any) -> Engine:  # noqa: ANN401 - as above
    from assistant.hearing.engines.vosk_engine import VoskEngine  # noqa: PLC0415 - as above

    return VoskEngine(engine.folder, **given)


def _pair(engine: Any, **given: Any) -> Engine:  # noqa: ANN401 - as above
    from assistant.hearing.engines.pair import PairEngine  # noqa: PLC0415 - as above

    return PairEngine(engine.folder, **given)


_MADE: Final[Mapping[tuple[str, str], Callable[[Any], Engine]]] = {
    (POCKETSPHINX, "variation"): _sphinx_once,
    (POCKETSPHINX, "floor"): _sphinx_no_floor,
    (VOSK, "variation"): lambda engine: _vosk(engine, paces=()),
    (VOSK, "n-best"): lambda engine: _vosk(engine, alternatives=1),
    (PAIR, "variation"): lambda engine: _pair(engine, paces=()),
    (PAIR, "floor"): lambda engine: _pair(engine, floor_db=_NO_FLOOR_DB),
    (PAIR, "n-best"): lambda engine: _pair(engine, alternatives=1),
    (PAIR, "second-opinion"): lambda engine: _vosk(engine, all_words=False),
}
"""By kind of engine and part: what is made of the whole engine."""


def bars_without(name: str, part: str | None) -> EngineBars:
    """What it takes to be accepted: nothing without rejection.

    The Vosk model without its second opinion keeps the pair's levels: only the opinion is missing.
    """
    engine = engine_without(name, part)
    shipped = shipped_bars()[engine.name]
    if part == "rejection":
        none = Bar(confidence=0.0, agreement=0.0, snr_db=-1000.0)
        return shipped.model_copy(
            update={"bars": dict.fromkeys(Cost, none), "single_margin": -math.inf}
        )
    if part == "second-opinion":
        pair = shipped_bars()[PAIR]
        levels = {
            cost: bar.model_copy(update={"snr_db": pair.bars[cost].snr_db})
            for cost, bar in shipped.bars.items()
        }
        return shipped.model_copy(update={"bars": levels, "masked_db": pair.masked_db})
    return shipped


def grammar_change(part: str | None) -> ChangeGrammar | None:
    """What a part does to the grammar, undone; None when it does nothing to it."""
    if part == "one-spelling":
        return _every_spelling
    return _word_by_word if part == "word-pairs" else None


def _every_spelling(grammar: Grammar) -> Grammar:
    return replace(grammar, sounds_alike=())


def _word_by_word(grammar: Grammar) -> Grammar:
    return _WordByWord(**{each.name: getattr(grammar, each.name) for each in fields(grammar)})


class _WordByWord(Grammar):
    """A grammar whose list for Vosk holds the words of open slots one by one."""

    def vosk_phrases(self) -> tuple[str, ...]:
        """Fixed phrases as they are, of the others each word."""
        return self._by_word

    @cached_property
    def _by_word(self) -> tuple[str, ...]:
        fixed = set(phrase_list([each for each in self.patterns if not _open(each)]))
        found: dict[str, None] = {}
        for text in super().vosk_phrases():
            found.update(dict.fromkeys([text] if self.respelled(text) in fixed else text.split()))
        return tuple(found)


def _open(pattern: Pattern) -> bool:
    """Whether it holds a slot that no table fills."""
    return any(isinstance(part, Filled) and not part.ways for part in pattern.parts)
