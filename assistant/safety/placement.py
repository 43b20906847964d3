"""Where the safety stops fall in a plan: placed by the program from the hazard tags."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.checklist.plan import Plan, PlannedStep
from assistant.safety.hazards import HazardState, Stop, after_step, pass_stops


@dataclass(frozen=True, slots=True)
class Placed:
    """A stop, and the step it stands before (None: before the release)."""

    stop: Stop
    before: PlannedStep | None


def place_stops(plan: Plan) -> tuple[Placed, ...]:
    """The stops that a run with no trouble and nothing left out will meet, in order."""
    placed: list[Placed] = []
    state = HazardState()
    for step in plan.steps:
        state, passed = pass_stops(state, step.step.hazards)
        placed.extend(Placed(stop, step) for stop in passed)
        if step.step.stop is not None and step.step.stop.value not in passed:
            placed.append(Placed(Stop(step.step.stop.value), step))
        state = after_step(state, step.step.hazards)
    _, passed = pass_stops(state, None)
    placed.extend(Placed(stop, None) for stop in (*passed, Stop.RELEASE))
    return tuple(placed)
