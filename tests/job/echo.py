"""Whether something the assistant says could be heard as a confirmation (invariant I4)."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from assistant.job.admit import admitted, fillers
from assistant.job.effects import Effect, Line, Say
from assistant.job.state import JobState, Setting
from assistant.language.expression import normalize
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.intent import Cost
from assistant.opening import words_of

WORDS = words_of("en")
_CONFIRMING = {
    name
    for name, entry in WORDS.book.intents.items()
    if entry.cost in (Cost.CONFIRMATION, Cost.READ_BACK)
}


_Wanted = tuple[tuple[str, tuple[str, ...]], ...]


@cache
def _grammar(names: frozenset[str], wanted: _Wanted) -> Grammar:
    return build_grammar(WORDS.book, names, {"read_back": dict(wanted)})


@cache
def both_ways(said: Line) -> tuple[str, str]:
    """A line as it is shown and as it is spoken; an error where it can't be worded."""
    return WORDS.shown(said), WORDS.spoken(said)


@cache
def _may_begin(names: frozenset[str], wanted: _Wanted, word: str) -> bool:
    return _grammar(names, wanted).can_begin(word)


@cache
def _confirmations_in(names: frozenset[str], wanted: _Wanted, text: str) -> tuple[str, ...]:
    grammar = _grammar(names, wanted)
    words = normalize(text)
    found = []
    for begin in range(len(words)):
        if not _may_begin(names, wanted, words[begin]):
            continue
        for end in range(begin + 1, len(words) + 1):
            phrase = " ".join(words[begin:end])
            if not grammar.can_begin(phrase):
                break
            if grammar.matches(phrase):
                found.append(phrase)
    return tuple(found)


def heard_as_confirmation(
    setting: Setting, state: JobState, effects: Iterable[Effect]
) -> tuple[str, ...]:
    """Phrases in what is said that would confirm something in the state it leaves the job in."""
    names = admitted(setting, state) & _CONFIRMING
    if not names:
        return ()
    wanted = tuple(fillers(setting, state).get("read_back", {}).items())
    found: list[str] = []
    for effect in effects:
        if isinstance(effect, Say):
            for way in zip(*(both_ways(said) for said in effect.lines), strict=True):
                found.extend(_confirmations_in(names, wanted, " ".join(way)))
    return tuple(found)
