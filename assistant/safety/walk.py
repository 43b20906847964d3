"""An exhaustive walk over a checklist as a program: options branch, steps may be left out.

Options multiply, but few of them matter at any one place. So an option is chosen only when a
step first asks for it, and forgotten once no later step does: paths that can't differ any more
become one. What is walked over is chosen by the caller, so that things that don't touch each
other (the hazards, each item of the off-list) are walked apart.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from assistant.checklist.expand import Candidate
from assistant.checklist.model import OptionValue
from assistant.checklist.plan import PlannedStep

S = TypeVar("S", bound=Hashable)
Chosen = tuple[tuple[str, OptionValue], ...]


class TooManyStates(Exception):  # noqa: N818 - the caller tells it as a finding
    """The walk met more states than it may: nothing is proved."""


@dataclass(frozen=True, slots=True)
class Trail:
    """How a state was reached: what happened, newest last, and which options were chosen."""

    before: Trail | None = None
    told: tuple[str, ...] = ()
    chosen: Chosen = ()

    def and_then(self, told: tuple[str, ...], chosen: Chosen = ()) -> Trail:
        """The trail with more on it; itself when there is nothing more."""
        return Trail(self, told, chosen) if told or chosen else self

    def lines(self) -> tuple[str, ...]:
        """What happened, oldest first."""
        return tuple(line for trail in self._all() for line in trail.told)

    def options(self) -> Chosen:
        """The options chosen on the way."""
        return tuple(choice for trail in self._all() for choice in trail.chosen)

    def _all(self) -> list[Trail]:
        trails: list[Trail] = []
        at: Trail | None = self
        while at is not None:
            trails.append(at)
            at = at.before
        return trails[::-1]


@dataclass(frozen=True, slots=True)
class Move(Generic[S]):
    """What one step makes of a state.

    Attributes:
        state: afterwards; None when the path ends here.
        told: what happened, for the trail.
        broken: what is broken, None when nothing is.
    """

    state: S | None
    told: tuple[str, ...] = ()
    broken: str | None = None


@dataclass(frozen=True, slots=True)
class Breach(Generic[S]):
    """Something broken, with the way there."""

    code: str
    step: PlannedStep | None
    state: S
    trail: Trail


Rule = Callable[[S, PlannedStep | None], Iterable[Move[S]]]


@dataclass
class Walk(Generic[S]):
    """The result of a walk: breaches, one for each code and step, and how much was explored."""

    breaches: dict[tuple[str, str], Breach[S]]
    states: int = 0


def walk(
    steps: Sequence[Candidate],
    options: Mapping[str, tuple[OptionValue, ...]],
    start: S,
    rule: Rule[S],
    bound: int,
) -> Walk[S]:
    """Follow every path through the steps, and then to the end (a step of None).

    Args:
        steps: in order; those that can't change or break anything may be left out.
        options: every option with its values, the default first.
        start: the state before the first step.
        rule: what a step makes of a state.
        bound: most (step, options, state) triples to look at.

    Raises:
        TooManyStates: the bound was met.
    """
    found: Walk[S] = Walk({})
    frontier: dict[tuple[Chosen, S], Trail] = {((), start): Trail()}
    live = _live(steps)
    for candidate, needed in zip((*steps, None), (*live, frozenset[str]()), strict=True):
        after: dict[tuple[Chosen, S], Trail] = {}
        for (chosen, state), trail in frontier.items():
            found.states += 1
            if found.states > bound:
                raise TooManyStates
            for key, way in _next(found, candidate, options, (chosen, state, trail), rule):
                kept = tuple(choice for choice in key[0] if choice[0] in needed)
                after.setdefault((kept, key[1]), way)
        frontier = after
    return found


def _live(steps: Sequence[Candidate]) -> list[frozenset[str]]:
    """For each step, the options that a later one still asks for."""
    later: set[str] = set()
    live: list[frozenset[str]] = []
    for candidate in reversed(steps):
        live.append(frozenset(later))
        later.update(name for name, _ in candidate.when)
    return live[::-1]


def _next(
    found: Walk[S],
    candidate: Candidate | None,
    options: Mapping[str, tuple[OptionValue, ...]],
    at: tuple[Chosen, S, Trail],
    rule: Rule[S],
) -> Iterator[tuple[tuple[Chosen, S], Trail]]:
    chosen, state, trail = at
    step = candidate.planned if candidate is not None else None
    for choice, applies in _branches(candidate, options, chosen):
        way = trail.and_then((), choice[len(chosen) :])
        if not applies:
            yield (choice, state), way
            continue
        if step is not None and step.step.optional:
            left = way.and_then((f"step {step.id} left out",))
            yield (choice, state), left
        for move in rule(state, step):
            done = way.and_then(move.told)
            if move.broken is not None:
                key = (move.broken, step.id if step is not None else "")
                found.breaches.setdefault(key, Breach(move.broken, step, state, done))
            if move.state is not None:
                yield (choice, move.state), done


def _branches(
    candidate: Candidate | None,
    options: Mapping[str, tuple[OptionValue, ...]],
    chosen: Chosen,
) -> Iterator[tuple[Chosen, bool]]:
    """Each way to choose what this step asks for, and whether the step then applies."""
    if candidate is None:
        yield chosen, True
        return
    pending: list[tuple[Chosen, int]] = [(chosen, 0)]
    while pending:
        so_far, place = pending.pop()
        if place == len(candidate.when):
            yield so_far, True
            continue
        name, wanted = candidate.when[place]
        known = dict(so_far)
        for value in (known[name],) if name in known else options[name]:
            more = so_far if name in known else (*so_far, (name, value))
            if value == wanted:
                pending.append((more, place + 1))
            else:
                yield more, False


def count_paths(steps: Sequence[Candidate], options: Mapping[str, tuple[OptionValue, ...]]) -> int:
    """How many ways there are through the steps: choices of options, and steps left out.

    Options that no step asks for don't count.
    """
    asked = [name for name in options if any(name in dict(c.when) for c in steps)]
    # A step that must be done is one way, whatever decides about it.
    deciding = [c for c in steps if c.planned.step.optional]
    live = _live(deciding)
    weights: dict[Chosen, int] = {(): 1}
    met: set[str] = set()
    for candidate, needed in zip(deciding, live, strict=True):
        after: dict[Chosen, int] = {}
        for chosen, weight in weights.items():
            for choice, applies in _every(candidate, options, chosen):
                kept = tuple(one for one in choice if one[0] in needed)
                ways = weight * (2 if applies and candidate.planned.step.optional else 1)
                after[kept] = after.get(kept, 0) + ways
        weights = after
        met.update(name for name, _ in candidate.when)
    total = sum(weights.values())
    for name in asked:
        if name not in met:
            total *= len(options[name])
    return total


def _every(
    candidate: Candidate, options: Mapping[str, tuple[OptionValue, ...]], chosen: Chosen
) -> Iterator[tuple[Chosen, bool]]:
    """As `_branches`, but every option that the step asks for is chosen, for counting."""
    choices = [chosen]
    for name, _ in candidate.when:
        choices = [more for one in choices for more in _with(one, name, options[name])]
    for one in choices:
        known = dict(one)
        yield one, all(known[name] == wanted for name, wanted in candidate.when)


def _with(chosen: Chosen, name: str, values: tuple[OptionValue, ...]) -> list[Chosen]:
    return [chosen] if name in dict(chosen) else [(*chosen, (name, value)) for value in values]
