"""The proof: no path through a checklist passes a hazard wrongly or leaves something off.

Walked exhaustively (`walk`) over the abstract state: the three hazards together, since battery
and fuel depend on each other, and each item of the off-list by itself. A smell, a leak, a break
or a hand-over may come between any two steps; a correction or going back only leads to states
that were reached before.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

from assistant.checklist.expand import Candidate, candidates, default_first
from assistant.checklist.loader import Loaded
from assistant.checklist.model import Hazards, Interlock, OptionValue
from assistant.checklist.offlist import OffList, Refused
from assistant.checklist.plan import Plan, PlannedStep
from assistant.checklist.tags import FluidTag
from assistant.safety.breaches import BROKEN, Broken, path_of
from assistant.safety.hazards import (
    NO_TAGS,
    Condition,
    Hazard,
    HazardState,
    Stop,
    after_step,
    doubt,
    forbidden,
    pass_stops,
    untrue,
)
from assistant.safety.interlocks import interlock_walks
from assistant.safety.walk import (
    Breach,
    Move,
    Rule,
    TooManyStates,
    Walk,
    count_paths,
    walk,
)

MOST_STATES: Final = 2_000_000
"""States looked at before the proof gives up; giving up is an error, never a pass."""


@dataclass(frozen=True, slots=True)
class Proof:
    """What the walks found.

    Attributes:
        broken: each broken invariant once, with one path that breaks it.
        paths: how many ways through the checklist there are: choices of options, steps left out.
        states: how many (step, options, state) triples were explored.
        complete: False when the bound was met: then nothing is proved.
    """

    broken: tuple[Broken, ...]
    paths: int
    states: int
    complete: bool = True


def prove(plan: Plan, bound: int = MOST_STATES) -> Proof:
    """Prove one choice of options."""
    steps = tuple(Candidate(planned, (), "") for planned in plan.steps)
    return _prove(steps, {}, plan.interlocks, bound)


def prove_checklist(loaded: Loaded, bound: int = MOST_STATES) -> Proof:
    """Prove every choice of options at once."""
    options = {n: default_first(option) for n, option in loaded.checklist.options.items()}
    return _prove(candidates(loaded), options, loaded.checklist.interlocks, bound)


def _prove(
    steps: Sequence[Candidate],
    options: Mapping[str, tuple[OptionValue, ...]],
    interlocks: Sequence[Interlock],
    bound: int,
) -> Proof:
    broken = [*_optional_hazards(steps), *_dead_ends(steps)]
    states = 0
    try:
        for found in (
            *_walks(steps, options, bound),
            *interlock_walks(steps, options, interlocks, bound),
        ):
            states += found[1]
            broken.extend(found[0])
    except TooManyStates:
        return Proof(tuple(broken), 0, bound, complete=False)
    unique = {(b.code, b.step.id if b.step else "", b.message): b for b in broken}
    return Proof(tuple(unique.values()), count_paths(steps, options), states)


def _walks(
    steps: Sequence[Candidate], options: Mapping[str, tuple[OptionValue, ...]], bound: int
) -> Iterator[tuple[list[Broken], int]]:
    """One walk for the hazards, then one for each thing that comes off."""
    hazards = walk(_that_matter(steps), options, HazardState(), _hazard_rule, bound)
    yield [_hazard_broken(breach) for breach in _once(hazards)], hazards.states
    named: dict[str, list[Candidate]] = {}
    for candidate in steps:
        step = candidate.planned.step
        for item in dict.fromkeys([*(o.item for o in step.off), *(b.item for b in step.back)]):
            named.setdefault(item, []).append(candidate)
    for item, moving in named.items():
        off: Walk[OffList] = walk(moving, options, OffList(), _off_rule(item), bound)
        yield [_off_broken(item, breach, moving) for breach in off.breaches.values()], off.states


def _that_matter(steps: Sequence[Candidate]) -> list[Candidate]:
    """The steps that touch a hazard, and those before which a stop for one may be due.

    A closed system gets its stop before the next step that doesn't go on closing it, whatever
    that step is; after one step that always applies there is nothing due any more.
    """
    kept: list[Candidate] = []
    settled = True
    for candidate in steps:
        touches = _touches(candidate.planned)
        if touches or not settled:
            kept.append(candidate)
            settled = not (touches or candidate.when or candidate.planned.step.optional)
    return kept


def _touches(planned: PlannedStep) -> bool:
    return planned.step.hazards != NO_TAGS or planned.step.stop is not None


def _hazard_rule(state: HazardState, step: PlannedStep | None) -> Iterator[Move[HazardState]]:
    """Pass the stops, do the step; before it, any hazard may come into doubt."""
    yield _hazard_move(state, step, ())
    for hazard in Hazard:
        doubted = doubt(state, hazard, even_if_safe=True)
        if doubted != state:
            yield _hazard_move(doubted, step, (f"{hazard.value} comes into doubt",))


def _hazard_move(
    state: HazardState, step: PlannedStep | None, told: tuple[str, ...]
) -> Move[HazardState]:
    tags = step.step.hazards if step is not None else None
    state, passed = pass_stops(state, tags)
    trail = [*told, *(f"safety stop {stop.value}" for stop in passed)]
    reason = forbidden(state, tags)
    if step is None or tags is None:
        return Move(None, tuple(trail), reason)
    asked = step.step.stop
    if reason is None and asked is not None and asked.value not in passed:
        reason = "asked-stop-untrue" if untrue(state, Stop(asked.value)) else None
    if _touches(step) or len(trail) > len(told):
        trail.append(_told(step))
    return Move(_meant(state, tags, reason), tuple(trail), reason)


def _meant(state: HazardState, tags: Hazards, reason: str | None) -> HazardState:
    """The state that the author must have meant, so that one breach doesn't bring others."""
    if reason == "needs-battery-isolated":
        state = replace(state, battery=Condition.OPEN)
    if reason == "fuel-not-open":
        state = replace(state, fuel=_opened_or_closed(state.fuel, tags.fuel))
    if reason == "brake-not-open":
        state = replace(state, brake=_opened_or_closed(state.brake, tags.brake))
    return after_step(state, tags)


def _opened_or_closed(now: Condition, tag: FluidTag | None) -> Condition:
    """What was proved while open was meant to be closed before."""
    return Condition.CLOSED if tag is FluidTag.PROVE and now is Condition.OPEN else now


def _once(found: Walk[HazardState]) -> Iterator[Breach[HazardState]]:
    """The breaches, but what stays unchecked after one closing is told only where it first is.

    Not at all where that closing is itself out of place.
    """
    told = {
        (code.replace("-not-open", "-not-checked"), step)
        for code, step in found.breaches
        if code.endswith("-not-open")
    }
    for breach in found.breaches.values():
        hazard = breach.code.removesuffix("-not-checked")
        if hazard != breach.code:
            lines = [text for text in breach.trail.lines() if f"{hazard} close" in text]
            closing = lines[-1].removeprefix("step ").partition(":")[0] if lines else ""
            key = (breach.code, closing)
            if key in told:
                continue
            told.add(key)
        yield breach


def _told(step: PlannedStep) -> str:
    tags = step.step.hazards
    named = [
        f"{hazard} {tag.value}"
        for hazard, tag in (
            ("battery", tags.battery),
            ("fuel", tags.fuel),
            ("brake", tags.brake),
            ("event", tags.event),
        )
        if tag is not None
    ]
    return f"step {step.id}: {', '.join(named)}" if named else f"step {step.id}"


def _hazard_broken(breach: Breach[HazardState]) -> Broken:
    step = breach.step
    tags = step.step.hazards if step is not None else None
    tag = (tags.fuel if breach.code.startswith("fuel") else tags.brake) if tags else None
    message = BROKEN[breach.code].format(
        tag=tag.value if tag is not None else "",
        stop=step.step.stop.value if step is not None and step.step.stop is not None else "",
        wants="close" if tag is FluidTag.PROVE else "open",
        open=", ".join(f"{h.value} {breach.state.of(h).plain}" for h in breach.state.open_ones()),
    )
    return Broken(breach.code, step, message, path_of(breach.trail, "" if step else "release"))


def _off_rule(item: str) -> Rule[OffList]:
    """The off-list seen by one item alone."""

    def rule(state: OffList, step: PlannedStep | None) -> Iterator[Move[OffList]]:
        if step is None:
            yield Move(None, (), "still-off" if state.open_items() else None)
            return
        after = state
        for gone in step.step.off:
            if gone.item == item:
                after = after.take_off(item, gone.count, gone.how)
        for back in step.step.back:
            if back.item == item:
                returned = after.put_back(item, back.count, new=True)
                if isinstance(returned, Refused):
                    yield Move(OffList(), (f"step {step.id}: {item} back",), "back-without-off")
                    return
                after = returned
        said = "back" if any(b.item == item for b in step.step.back) else "off"
        yield Move(after, (f"step {step.id}: {item} {said}",))

    return rule


def _off_broken(item: str, breach: Breach[OffList], moving: Sequence[Candidate]) -> Broken:
    step = breach.step
    if step is None:  # told where it came off, since that is what the author looks for
        taken = [c.planned for c in moving if any(o.item == item for o in c.planned.step.off)]
        step = taken[-1] if taken else None
    message = BROKEN[breach.code].format(item=f'"{item}"')
    end = "release" if breach.step is None else ""
    return Broken(breach.code, step, message, path_of(breach.trail, end))


def _optional_hazards(steps: Sequence[Candidate]) -> Iterator[Broken]:
    for candidate in steps:
        planned = candidate.planned
        tags = planned.step.hazards
        # Left out, a step that only tells an event changes nothing.
        if planned.step.optional and (tags.battery or tags.fuel or tags.brake):
            told = (f"step {planned.id} left out",)
            yield Broken("optional-hazard", planned, BROKEN["optional-hazard"], told)


_DONE_AGAIN = (None, FluidTag.CLOSE, FluidTag.PROVE)


def _dead_ends(steps: Sequence[Candidate]) -> Iterator[Broken]:
    """Steps that a mended trouble would reopen after what they need is over."""
    by_name: dict[str, list[PlannedStep]] = {}
    for candidate in steps:
        by_name.setdefault(candidate.planned.id, []).append(candidate.planned)
        if candidate.planned.step.step != candidate.planned.id:
            by_name.setdefault(candidate.planned.step.step, []).append(candidate.planned)
    for candidate in steps:
        source = candidate.planned
        for name in source.step.reopens:
            for again in by_name.get(name, []):
                tags = again.step.hazards
                if tags.battery or tags.fuel not in _DONE_AGAIN or tags.brake not in _DONE_AGAIN:
                    message = BROKEN["reopens-hazard-work"].format(reopened=again.id)
                    told = (
                        f"step {source.id}: trouble",
                        _told(again),
                        "trouble is cleared once that is closed",
                    )
                    yield Broken("reopens-hazard-work", source, message, told)
