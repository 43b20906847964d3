"""Interlocks: the checklist's own rules beyond the three hazards, enforced at every step."""

from __future__ import annotations

from assistant.checklist.model import Interlock
from assistant.checklist.plan import PlannedStep
from assistant.job.effects import Line, line
from assistant.job.state import JobState, Setting


def blocking(setting: Setting, state: JobState, planned: PlannedStep) -> Interlock | None:
    """The first interlock that forbids this step now, or None."""
    for interlock in setting.plan.interlocks:
        if names(planned, interlock.blocks) and _holds(setting, state, interlock):
            return interlock
    return None


def names(planned: PlannedStep, steps: tuple[str, ...]) -> bool:
    """Whether a list of steps names this one, by its own name or with its repeat."""
    return planned.id in steps or planned.step.step in steps


def _holds(setting: Setting, state: JobState, interlock: Interlock) -> bool:
    off = state.progress.off
    if any(off.count_of(item) for item in interlock.while_off):
        return True
    if any(trouble.kind in interlock.while_trouble for trouble in state.open_troubles()):
        return True
    done = {entry.step for entry in state.progress.done}
    return any(
        names(other, interlock.while_not_done) and other.id not in done
        for other in setting.plan.steps
    )


def blocked_line(interlock: Interlock) -> Line:
    """Why the step is blocked."""
    return line("interlock.blocked", says=interlock.says)
