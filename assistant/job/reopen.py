"""Finished steps that must be done again after a trouble was mended (I9)."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from assistant.checklist.plan import PlannedStep
from assistant.job.state import JobState, Setting
from assistant.safety.hazards import Hazard, HazardState, doubt


def after_trouble(setting: Setting, state: JobState, step_id: str) -> JobState:
    """Reopen what the mended step names, and itself where a reading of it was out of limits."""
    source = next((p for p in setting.plan.steps if p.id == step_id), None)
    if source is None:
        return state
    named = set(source.step.reopens)
    if named:  # a hold before the mending proves nothing about what is after it
        state = replace(state, progress=replace(state.progress, held=False))
    if any(r.step == step_id and not r.within for r in state.progress.readings):
        named.add(step_id)
    return reopen(
        setting,
        state,
        (i for i, p in _done(setting, state) if {p.id, p.step.step} & named),
    )


def _done(setting: Setting, state: JobState) -> Iterable[tuple[int, PlannedStep]]:
    left_out = {entry.step for entry in state.progress.left_out}
    for index, planned in enumerate(setting.plan.steps[: state.progress.at]):
        if planned.id not in left_out:
            yield index, planned


def reopen(setting: Setting, state: JobState, indices: Iterable[int]) -> JobState:
    """Queue finished steps, doubt what they prove, and ask their readings again."""
    again = tuple(index for index in indices if index not in state.progress.queue)
    if not again:
        return state
    hazards = state.progress.hazards
    for index in again:
        hazards = _doubted(hazards, setting.plan.steps[index])
    measured = (
        (setting.plan.steps[index].id, reading.name)
        for index in again
        for reading in setting.plan.steps[index].step.readings
    )
    progress = replace(
        state.progress,
        queue=tuple(sorted((*state.progress.queue, *again))),
        hazards=hazards,
        held=False,
        again=(*state.progress.again, *measured),
    )
    return replace(state, progress=progress, before=(), opened_for="")


def _doubted(hazards: HazardState, planned: PlannedStep) -> HazardState:
    tags = planned.step.hazards
    if tags.fuel is not None:
        hazards = doubt(hazards, Hazard.FUEL, even_if_safe=True)
    if tags.brake is not None:
        hazards = doubt(hazards, Hazard.BRAKE, even_if_safe=True)
    return hazards
