"""Finished steps that must be done again after a trouble was mended (I9)."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType
from typing import Final

from assistant.checklist.plan import PlannedStep
from assistant.checklist.tags import FluidTag
from assistant.job.state import JobState, Setting, Trouble
from assistant.safety.hazards import Hazard, HazardState, doubt, fluids

ALARMED: Final[Mapping[str, tuple[Hazard, ...]]] = MappingProxyType(
    {
        "smell_of_fuel": (Hazard.FUEL,),
        "smoke": (Hazard.BATTERY, Hazard.FUEL),
        "fluid_leak": (Hazard.BRAKE,),
    }
)
"""Hazards that each alarm makes unproven."""


def after_trouble(setting: Setting, state: JobState, trouble: Trouble) -> JobState:
    """Reopen what must be looked at again once this trouble is put right.

    That is what its step names; the step itself, where a reading of it was out of limits; and
    after an alarm the checks that had proved its hazard before: only they restore it.
    """
    step_id = trouble.step
    named = _proofs_before(setting, state, trouble)
    source = next((p for p in setting.plan.steps if p.id == step_id), None)
    named |= set(source.step.reopens) if source is not None else set()
    if named:  # a hold before the mending proves nothing about what is after it
        state = replace(state, progress=replace(state.progress, held=False))
    if any(r.step == step_id and not r.within for r in state.progress.readings):
        named.add(step_id)
    return reopen(
        setting,
        state,
        (i for i, p in _done(setting, state) if {p.id, p.step.step} & named),
    )


def _proofs_before(setting: Setting, state: JobState, trouble: Trouble) -> set[str]:
    """Checks of an alarm's hazards that were done before it and not since."""
    hazards = ALARMED.get(trouble.kind, ())
    last = {entry.step: place for place, entry in enumerate(state.progress.done)}
    return {
        planned.id
        for planned in setting.plan.steps
        if last.get(planned.id, trouble.done_before) < trouble.done_before
        and any(h in hazards and t is FluidTag.PROVE for h, t in fluids(planned.step.hazards))
    }


def _done(setting: Setting, state: JobState) -> Iterable[tuple[int, PlannedStep]]:
    left_out = {entry.step for entry in state.progress.left_out}
    for index, planned in enumerate(setting.plan.steps[: state.progress.at]):
        if planned.id not in left_out:
            yield index, planned


def reopen(setting: Setting, state: JobState, indices: Iterable[int]) -> JobState:
    """Queue finished steps, doubt what they prove, and ask their readings again."""
    named = {i for index in indices for i in (index, *_check_of(setting, state, index))}
    again = tuple(sorted(named - set(state.progress.queue)))
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


def _check_of(setting: Setting, state: JobState, index: int) -> Iterable[int]:
    """The check that was done after a closing step: closed again, it is checked again."""
    tags = setting.plan.steps[index].step.hazards
    later = range(index + 1, state.progress.at)
    for closed in fluids(tags):
        if closed[1] is FluidTag.CLOSE:
            check = (closed[0], FluidTag.PROVE)
            checks = (i for i in later if check in fluids(setting.plan.steps[i].step.hazards))
            yield from (i for i in (next(checks, None),) if i is not None)


def _doubted(hazards: HazardState, planned: PlannedStep) -> HazardState:
    for hazard, tag in fluids(planned.step.hazards):
        if tag is not None:
            hazards = doubt(hazards, hazard, even_if_safe=True)
    return hazards
