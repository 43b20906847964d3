"""All phrases as one machine over words, to see what can follow and what overlaps."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from assistant.language.expression import Choice, Expression, Repeat, Rule, Run, Word

States = frozenset[int]


@dataclass
class Automaton:
    """A non-deterministic machine; every expression has states and one end of its own.

    Every state leads to the end of its expression, so "alive" and "can be completed" are one.
    """

    steps: list[dict[str, list[int]]] = field(default_factory=list)
    silent: list[list[int]] = field(default_factory=list)
    owner: list[int] = field(default_factory=list)
    ends: dict[int, int] = field(default_factory=dict)
    starts: list[int] = field(default_factory=list)

    @classmethod
    def of(cls, expressions: Iterable[Expression]) -> Automaton:
        """The machine of these expressions; an expression's number is its owner number."""
        machine = cls()
        for number, expression in enumerate(expressions):
            start = machine._state(number)
            machine.starts.append(start)
            machine.ends[machine._add(expression, start, number)] = number
        return machine

    def _state(self, owner: int) -> int:
        self.steps.append({})
        self.silent.append([])
        self.owner.append(owner)
        return len(self.owner) - 1

    def _add(self, expression: Expression, at: int, owner: int) -> int:
        match expression:
            case Word(text):
                end = self._state(owner)
                self.steps[at].setdefault(text, []).append(end)
                return end
            case Run(parts):
                for part in parts:
                    at = self._add(part, at, owner)
                return at
            case Choice(options):
                end = self._state(owner)
                for option in options:
                    self.silent[self._add(option, at, owner)].append(end)
                return end
            case Rule(_, part):
                return self._add(part, at, owner)
            case Repeat():
                return self._add_repeat(expression, at, owner)

    def _add_repeat(self, repeat: Repeat, at: int, owner: int) -> int:
        for _ in range(repeat.low):
            at = self._add(repeat.part, at, owner)
        end = self._state(owner)
        if repeat.high is None:
            self.silent[at].append(end)
            again = self._add(repeat.part, end, owner)
            self.silent[again].append(end)
            return end
        self.silent[at].append(end)
        for _ in range(repeat.high - repeat.low):
            at = self._add(repeat.part, at, owner)
            self.silent[at].append(end)
        return end

    def closure(self, states: Iterable[int]) -> States:
        """These states and all that are reached from them without a word."""
        found, waiting = set(states), list(states)
        while waiting:
            for after in self.silent[waiting.pop()]:
                if after not in found:
                    found.add(after)
                    waiting.append(after)
        return frozenset(found)

    def start(self) -> States:
        """Where every expression begins."""
        return self.closure(self.starts)

    def step(self, states: States, word: str) -> States:
        """Where this word leads; empty when nowhere."""
        return self.closure({s for state in states for s in self.steps[state].get(word, ())})

    def after(self, states: States, words: Sequence[str]) -> States:
        """Where these words lead."""
        for word in words:
            states = self.step(states, word)
        return states

    def next_words(self, states: States) -> list[str]:
        """The words that can follow, sorted."""
        return sorted({word for state in states for word in self.steps[state]})

    def accepted(self, states: States) -> list[int]:
        """Owners of the expressions that are complete here, sorted."""
        return sorted(self.ends[state] for state in states if state in self.ends)

    def reached(self) -> Iterator[tuple[States, tuple[str, ...]]]:
        """Every set of states that words lead to, with the shortest such words, shortest first."""
        begin = self.start()
        waiting: deque[tuple[States, tuple[str, ...]]] = deque([(begin, ())])
        seen = {begin}
        while waiting:
            states, words = waiting.popleft()
            yield states, words
            for word in self.next_words(states):
                after = self.step(states, word)
                if after not in seen:
                    seen.add(after)
                    waiting.append((after, (*words, word)))

    def tails(self) -> list[tuple[str, ...]]:
        """For each state, the shortest words from it to the end of its expression."""
        back: list[list[tuple[int, str | None]]] = [[] for _ in self.owner]
        for state, silent in enumerate(self.silent):
            for after in silent:
                back[after].append((state, None))
            for word, afters in self.steps[state].items():
                for after in afters:
                    back[after].append((state, word))
        return _shortest(len(self.owner), list(self.ends), back, forward=False)

    def heads(self) -> list[tuple[str, ...]]:
        """For each state, the shortest words that lead to it."""
        onward: list[list[tuple[int, str | None]]] = [
            [(after, None) for after in self.silent[state]]
            + [(after, word) for word, afters in self.steps[state].items() for after in afters]
            for state in range(len(self.owner))
        ]
        return _shortest(len(self.owner), self.starts, onward, forward=True)


def _shortest(
    size: int,
    origins: Sequence[int],
    edges: Sequence[Sequence[tuple[int, str | None]]],
    *,
    forward: bool,
) -> list[tuple[str, ...]]:
    """Shortest words along the edges; a silent edge costs nothing."""
    best: list[tuple[str, ...] | None] = [None] * size
    for origin in origins:
        best[origin] = ()
    waiting = deque(origins)
    while waiting:
        state = waiting.popleft()
        words = best[state] or ()
        for after, word in edges[state]:
            longer = words
            if word is not None:
                longer = (*words, word) if forward else (word, *words)
            known = best[after]
            if known is None or len(longer) < len(known):
                best[after] = longer
                waiting.append(after)
    return [words or () for words in best]
