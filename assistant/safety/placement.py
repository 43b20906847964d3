"""Where the safety stops fall in a plan: placed by the program from the hazard tags."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.checklist.plan import Plan, PlannedStep
from assistant.safety.hazards import HazardState, Stop, after_step, after_stop, due_stop


@dataclass(frozen=True, slots=True)
class Placed:
    """A stop, and the step it stands before (None: before the release)."""

    stop: Stop
    before: PlannedStep | None


def place_stops(plan: Plan) -> tuple[Placed, ...]:
    """The stops that a run with no trouble and nothing left out will meet, in order."""
    placed: list[Placed] = []
    state = HazardState()
    for step in (*plan.steps, None):
        tags = step.step.hazards if step is not None else None
        passed: set[Stop] = set()
        while (stop := due_stop(state, tags)) is not None:
            placed.append(Placed(stop, step))
            if stop is Stop.RELEASE:
                return tuple(placed)
            state = after_stop(state, stop, releasing=step is None)
            passed.add(stop)
        if step is not None and step.step.stop is not None:
            asked = Stop(step.step.stop.value)
            if asked not in passed:
                placed.append(Placed(asked, step))
        if step is not None:
            state = after_step(state, step.step.hazards)
    return tuple(placed)
