"""Phrases that are the same, the beginning or the end of other phrases.

A phrase that another one continues can't be acted on before silence: "say again" and "say
again slowly". One that another one ends with can be all that was caught of it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from assistant.language.automaton import Automaton, States
from assistant.language.book import Phrasebook
from assistant.language.pattern import Pattern, opaque, patterns_of, rule_slots, table_slot

_Meaning = frozenset[tuple[str, tuple[tuple[str, str], ...]]]
_Words = tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Collision:
    """A phrase that is the beginning or the end of a longer one that means something else.

    Attributes:
        place: where in the longer phrase the shorter one stands.
        short: an example, in words.
        long: the example it is part of.
        short_intent: what the shorter one means.
        long_intent: what the longer one means; may be the same intent with another value.
    """

    place: Literal["beginning", "end"]
    short: str
    long: str
    short_intent: str
    long_intent: str

    def __str__(self) -> str:
        return (
            f'"{self.short}" ({self.short_intent}) is the {self.place} of '
            f'"{self.long}" ({self.long_intent})'
        )


def meaning(patterns: Sequence[Pattern], words: Sequence[str]) -> _Meaning:
    """Everything these words can mean, without the words themselves."""
    return frozenset((i.name, i.slots) for p in patterns for i in p.intents(words))


def shared_words(book: Phrasebook) -> Iterator[tuple[str, str, str]]:
    """Pairs of intents that the same words would mean, with an example of such words."""
    slots = {name: table_slot(name, table) for name, table in book.slots.items()}
    slots |= {name: opaque(name) for name in book.state_slots}
    slots |= rule_slots(book.numbers) if book.numbers is not None else {}
    patterns = patterns_of(book, book.intents, slots)
    machine = Automaton.of(pattern.expression for pattern in patterns)
    seen: set[tuple[str, str]] = set()
    for states, words in machine.reached():
        names = list(dict.fromkeys(patterns[n].intent for n in machine.accepted(states)))
        for second in names[1:]:
            if (names[0], second) not in seen:
                seen.add((names[0], second))
                yield names[0], second, " ".join(words)


def collisions(patterns: Sequence[Pattern], machine: Automaton) -> tuple[Collision, ...]:
    """One example for each pair of intents that collide, beginnings first."""
    found: dict[tuple[str, str, str], Collision] = {}
    for one in (*_beginnings(patterns, machine), *_endings(patterns, machine)):
        found.setdefault((one.place, one.short_intent, one.long_intent), one)
    return tuple(found.values())


def _beginnings(patterns: Sequence[Pattern], machine: Automaton) -> Iterator[Collision]:
    tails = machine.tails()
    seen: set[tuple[str, str]] = set()
    for states, words in machine.reached():
        shorts = {patterns[n].intent for n in machine.accepted(states)}
        if not shorts:
            continue
        here = meaning(patterns, words)
        for word in machine.next_words(states):
            for state in sorted(machine.step(states, word)):
                long_intent = patterns[machine.owner[state]].intent
                pairs = {(short, long_intent) for short in shorts} - seen
                longer = (*words, word, *tails[state])
                if not pairs or meaning(patterns, longer) == here:
                    continue
                seen |= pairs
                for short, long in sorted(pairs):
                    yield Collision("beginning", " ".join(words), " ".join(longer), short, long)


def _endings(patterns: Sequence[Pattern], machine: Automaton) -> Iterator[Collision]:
    heads = machine.heads()
    inside = [state for state, words in enumerate(heads) if words]
    seen: set[tuple[str, str]] = set()
    for whole, partial, words in _pairs(machine, machine.closure(inside)):
        shorts = {patterns[n].intent for n in machine.accepted(whole)}
        longs = {patterns[n].intent for n in machine.accepted(partial)}
        for short in sorted(shorts):
            for long in sorted(longs):
                if (short, long) in seen:
                    continue
                longer = _with_end(patterns, machine, heads, long, words)
                if longer and meaning(patterns, longer) != meaning(patterns, words):
                    seen.add((short, long))
                    yield Collision("end", " ".join(words), " ".join(longer), short, long)


def _pairs(machine: Automaton, inside: States) -> Iterator[tuple[States, States, _Words]]:
    """Words read from the start and, at the same time, from the middle of phrases."""
    waiting: deque[tuple[States, States, _Words]] = deque([(machine.start(), inside, ())])
    seen = {(machine.start(), inside)}
    while waiting:
        whole, partial, words = waiting.popleft()
        if words:
            yield whole, partial, words
        for word in machine.next_words(whole):
            after = (machine.step(whole, word), machine.step(partial, word))
            if after[1] and after not in seen:
                seen.add(after)
                waiting.append((*after, (*words, word)))


def _with_end(
    patterns: Sequence[Pattern],
    machine: Automaton,
    heads: Sequence[_Words],
    intent: str,
    words: _Words,
) -> _Words:
    """The shortest phrase of this intent that ends with these words, but is longer."""
    best: _Words = ()
    for state, head in enumerate(heads):
        if not head or patterns[machine.owner[state]].intent != intent:
            continue
        if best and len(head) + len(words) >= len(best):
            continue
        if machine.accepted(machine.after(machine.closure((state,)), words)):
            best = (*head, *words)
    return best
