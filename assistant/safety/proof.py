"""The proof: every path through a checklist, walked over the abstract hazard states.

One call walks one choice of options. Optional steps are both done and left out; a step that may
be left out touches no hazard, so the walk is over the hazard states that can be reached.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from assistant.checklist.model import FluidTag
from assistant.checklist.plan import Plan, PlannedStep
from assistant.safety.hazards import (
    HazardState,
    Stop,
    after_step,
    after_stop,
    due_stop,
    forbidden,
)

BROKEN: Mapping[str, str] = {
    "needs-battery-isolated": "this needs the battery isolated, and on this path it is not: a "
    "step tagged battery: disconnect must come before it (I1)",
    "battery-on-with-fuel-open": "the battery goes back while fuel is still open: a step tagged "
    "fuel: close must come before battery: reconnect (I1)",
    "battery-not-off": "the battery is reconnected, but on this path it was never disconnected",
    "battery-nothing-to-prove": "battery: prove has nothing to prove here: a step tagged battery: "
    "reconnect must come before it",
    "fuel-not-open": "fuel: {tag} without an open fuel system: a step tagged fuel: {wants} must "
    "come before it",
    "brake-not-open": "brake: {tag} without an open brake: a step tagged brake: {wants} must "
    "come before it",
    "release-with-open-hazard": "the job would end with a hazard not safe: {open} (I2)",
    "reopens-hazard-work": "{reopened} opens or works on a hazard and can't be done again once "
    "that is closed, so the job would be stuck there: reopen only steps that close, prove or look",
    "optional-hazard": "a step that touches a hazard can't be optional: leaving it out would "
    "change what is safe; use an option (when) instead (I3)",
}


@dataclass(frozen=True, slots=True)
class Broken:
    """An invariant that some path breaks.

    Attributes:
        code: key of BROKEN.
        step: the step at which it breaks; None at the release.
        message: what is wrong and what would be right.
        path: steps and stops that lead there, as a person can follow them.
    """

    code: str
    step: PlannedStep | None
    message: str
    path: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Proof:
    """What the walk found.

    Attributes:
        broken: each broken invariant once, with one path that breaks it.
        paths: how many ways through the plan there are (done or left out, for optional steps).
        states: how many different (step, hazard state) pairs were explored.
    """

    broken: tuple[Broken, ...]
    paths: int
    states: int


@dataclass
class _Walk:
    """Reachable hazard states before the next step, each with one path to it."""

    reached: dict[HazardState, tuple[str, ...]] = field(default_factory=lambda: {HazardState(): ()})
    broken: dict[tuple[str, str], Broken] = field(default_factory=dict)
    states: int = 0

    def take(self, step: PlannedStep | None) -> None:
        """Pass the stops before a step (or the release), do it, note what breaks."""
        after: dict[HazardState, tuple[str, ...]] = {}
        for state, path in self.reached.items():
            self.states += 1
            passed, trail = _through_stops(state, step)
            reason = forbidden(passed, step.step.hazards if step is not None else None)
            if reason is not None:
                self._note(reason, step, passed, (*path, *trail))
            if step is None:
                continue
            done = after_step(passed, step.step.hazards)
            after.setdefault(done, (*path, *trail, *_told(step)))
        self.reached = after or self.reached

    def _note(
        self, reason: str, step: PlannedStep | None, state: HazardState, path: tuple[str, ...]
    ) -> None:
        where = step.id if step is not None else ""
        if (reason, where) in self.broken:
            return
        tags = step.step.hazards if step is not None else None
        tag = (tags.fuel if reason.startswith("fuel") else tags.brake) if tags else None
        message = BROKEN[reason].format(
            tag=tag.value if tag is not None else "",
            wants="close" if tag is not None and tag.value == "prove" else "open",
            open=", ".join(f"{h.value} {state.of(h).plain}" for h in state.open_ones()),
        )
        end = f"step {step.number}, {step.id}" if step is not None else "release"
        self.broken[reason, where] = Broken(reason, step, message, (*path, end))


def prove(plan: Plan) -> Proof:
    """Walk one choice of options to its end."""
    walk = _Walk()
    paths = 1
    for step in plan.steps:
        if step.step.optional:
            paths *= 2
            tags = step.step.hazards
            if tags.battery or tags.fuel or tags.brake:
                message = BROKEN["optional-hazard"]
                told = (f"step {step.number}, {step.id}, left out",)
                broken = Broken("optional-hazard", step, message, told)
                walk.broken["optional-hazard", step.id] = broken
        walk.take(step)
    for broken in _dead_ends(plan):
        walk.broken[broken.code, broken.step.id if broken.step is not None else ""] = broken
    walk.take(None)
    return Proof(tuple(walk.broken.values()), paths, walk.states)


_DONE_AGAIN = (None, FluidTag.CLOSE, FluidTag.PROVE)


def _dead_ends(plan: Plan) -> Iterator[Broken]:
    """Steps that a mended trouble would reopen after what they need is over."""
    by_id = {planned.id: planned for planned in plan.steps}
    for source in plan.steps:
        for name in source.step.reopens:
            again = by_id.get(name)
            if again is None:
                continue
            tags = again.step.hazards
            if tags.battery or tags.fuel not in _DONE_AGAIN or tags.brake not in _DONE_AGAIN:
                message = BROKEN["reopens-hazard-work"].format(reopened=again.id)
                told = (
                    f"step {source.number}, {source.id}: trouble",
                    *_told(again),
                    "trouble is cleared once that is closed",
                )
                yield Broken("reopens-hazard-work", source, message, told)


def _through_stops(
    state: HazardState, step: PlannedStep | None
) -> tuple[HazardState, tuple[str, ...]]:
    """Pass every stop that is due before a step; the release stop itself ends the job."""
    tags = step.step.hazards if step is not None else None
    trail: list[str] = []
    while (stop := due_stop(state, tags)) not in (None, Stop.RELEASE):
        if stop is None:
            break
        trail.append(f"safety stop {stop.value}")
        state = after_stop(state, stop, releasing=step is None)
    return state, tuple(trail)


def _told(step: PlannedStep) -> tuple[str, ...]:
    """A step is part of a counterexample only if it touches a hazard."""
    tags = step.step.hazards
    named = [
        f"{hazard} {tag.value}"
        for hazard, tag in (("battery", tags.battery), ("fuel", tags.fuel), ("brake", tags.brake))
        if tag is not None
    ]
    return (f"step {step.number}, {step.id}: {', '.join(named)}",) if named else ()
