"""Example phrases in which every word follows every other that it may follow."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from assistant.language.automaton import Automaton

_EDGE: Final = ""
"""Stands for what is before a phrase and after it."""

_LONGEST: Final = 14


def examples(machine: Automaton) -> tuple[str, ...]:
    """Phrases with all pairs of neighboring words that the machine admits, about equally often.

    Each phrase takes the pair that was taken least so far, wherever it has a choice, so that no
    ending and no number is in the list much more often than another needs it; when that finds
    nothing new, what is missing is added by the shortest phrases. No chance is in it: the same
    machine gives the same phrases.
    """
    used: Counter[tuple[str, str]] = Counter()
    found: dict[str, None] = {}
    before = -1
    while len(used) > before:
        before = len(used)
        found[_walk(machine, used)] = None
    for text in _through_every_step(machine):
        pairs = _pairs(text)
        if any(not used[pair] for pair in pairs):
            used.update(pairs)
            found[text] = None
    return tuple(found)


def _walk(machine: Automaton, used: Counter[tuple[str, str]]) -> str:
    """One phrase by the least used pairs; what is too long already ends as soon as it may."""
    states, words, last = machine.start(), list[str](), _EDGE
    while True:
        may_end = bool(machine.accepted(states))
        choices = [*machine.next_words(states), *([_EDGE] if may_end else [])]
        hasty = may_end and len(words) >= _LONGEST
        word = _EDGE if hasty else min(choices, key=lambda choice: used[last, choice])
        used[last, word] += 1
        if word == _EDGE:
            return " ".join(words)
        words.append(word)
        states, last = machine.step(states, word), word


def _through_every_step(machine: Automaton) -> Iterator[str]:
    """For each two steps that follow each other, and each step that ends, a short phrase."""
    heads, tails = machine.heads(), machine.tails()
    for state, steps in enumerate(machine.steps):
        for word, afters in steps.items():
            for after in afters:
                yield " ".join((*heads[state], word, *tails[after]))
                for other in machine.closure([after]):
                    for second, ends in machine.steps[other].items():
                        for end in ends:
                            yield " ".join((*heads[state], word, second, *tails[end]))


def _pairs(text: str) -> list[tuple[str, str]]:
    words = [_EDGE, *text.split(), _EDGE]
    return list(pairwise(words))
