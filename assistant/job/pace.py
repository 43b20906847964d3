"""How long steps take: what the shop's own jobs teach, and where a job ran long."""

from __future__ import annotations

import statistics
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Final

from assistant.checklist.plan import PlannedStep
from assistant.job.state import JobState, Setting

FEWEST: Final = 3
"""Jobs that must have done a step before their time counts for more than the author's."""

_TIMES, _OVER = 2.0, 2.0
"""A step ran long when it took more than so many times what was expected, and so many minutes
more (common practice, no source: a short step doubles easily)."""


@dataclass(frozen=True, slots=True)
class Took:
    """A step of a finished job, and how long it was open, seconds."""

    job: str
    step: str
    seconds: float


@dataclass(frozen=True, slots=True)
class Long:
    """A step that took much longer than expected; minutes."""

    step: str
    number: int
    minutes: float
    expected: float


@dataclass(frozen=True, slots=True)
class Quick:
    """A step that was confirmed sooner than it can be done; seconds."""

    step: str
    number: int
    seconds: float
    least: float


def learn(taken: Iterable[Took]) -> dict[str, float]:
    """Minutes for each step that at least `FEWEST` jobs have done: the median, to one tenth.

    Args:
        taken: finished jobs on one checklist, each step in the order of its confirmations. Of a
            step that a job did again, the first time counts: it was the whole work.
    """
    first: dict[tuple[str, str], float] = {}
    for one in taken:
        first.setdefault((one.step, one.job), one.seconds)
    seconds: dict[str, list[float]] = {}
    for (step, _), took in first.items():
        seconds.setdefault(step, []).append(took)
    return {
        step: max(0.1, round(statistics.median(times) / 60, 1))
        for step, times in seconds.items()
        if len(times) >= FEWEST
    }


def expected_minutes(setting: Setting, planned: PlannedStep) -> float:
    """What the step should take: learned, else as the author wrote."""
    return setting.learned.get(planned.id, planned.step.minutes)


def minutes_left(setting: Setting, state: JobState) -> float:
    """Expected minutes of all steps to come, those to be done again included."""
    steps = setting.plan.steps
    again = [steps[index] for index in state.progress.queue]
    return sum(expected_minutes(setting, one) for one in (*again, *steps[state.progress.at :]))


def least_seconds(planned: PlannedStep) -> float:
    """A confirmation sooner than this is questioned: the author's figure or a twentieth."""
    if planned.step.least_seconds is not None:
        return float(planned.step.least_seconds)
    return planned.step.minutes * 60 / 20


def quick(setting: Setting, state: JobState) -> Iterator[Quick]:
    """Confirmed steps that were open for less than the work takes; each was asked about."""
    by_id = {planned.id: planned for planned in setting.plan.steps}
    for done in state.progress.done:
        least = least_seconds(by_id[done.step])
        if done.seconds < least:
            yield Quick(done.step, done.number, done.seconds, least)


def ran_long(setting: Setting, state: JobState) -> Iterator[Long]:
    """Confirmed steps that took more than twice what was expected, and two minutes more."""
    by_id = {planned.id: planned for planned in setting.plan.steps}
    for done in state.progress.done:
        expected, took = expected_minutes(setting, by_id[done.step]), done.seconds / 60
        if took > _TIMES * expected and took - expected >= _OVER:
            yield Long(done.step, done.number, round(took, 1), expected)
