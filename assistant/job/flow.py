"""What comes next: the one place that opens steps, safety stops and the release."""

from __future__ import annotations

from dataclasses import replace
from typing import Final

from assistant.checklist.plan import PlannedStep
from assistant.checklist.tags import FluidTag
from assistant.job.effects import Effect, Line, Say, line
from assistant.job.events import Stamp
from assistant.job.interlock import blocked_line, blocking
from assistant.job.kit import kit_groups, question
from assistant.job.present import off_lines, present_step
from assistant.job.state import Challenge, JobState, KitCheck, Mode, Pending, Setting, Trouble
from assistant.safety.hazards import (
    Condition,
    Hazard,
    Stop,
    doubt,
    due_stop,
    fluids,
    forbidden,
    untrue,
)
from assistant.safety.stops import StopText

Outcome = tuple[JobState, tuple[Effect, ...]]


def say(state: JobState, *lines: Line, fixed: bool = False) -> Outcome:
    """Say lines that "say again" will repeat."""
    return replace(state, last=lines, last_fixed=fixed), (Say(lines, fixed=fixed),)


def remark(state: JobState, *lines: Line) -> Outcome:
    """Say lines without making them what "say again" repeats."""
    return state, (Say(lines),)


def then(first: Outcome, second: Outcome) -> Outcome:
    """The second outcome's state, with the effects of both in order."""
    return second[0], first[1] + second[1]


def go_on(setting: Setting, state: JobState, at: Stamp, *lead: Line) -> Outcome:
    """Open what comes next: the kit, the standing condition, a safety stop, a step, the release.

    Args:
        setting: the job's fixed setting.
        state: the job; what was pending in it is dropped.
        at: now.
        lead: lines to say before.
    """
    state = replace(state, pending=Pending(), challenge=None, unclear=0)
    if state.kit is not None and not state.kit.over:
        return _ask_kit(setting, state, state.kit, lead)
    if not state.standing:
        standing = line("standing.ask", standing=setting.plan.standing)
        return say(replace(state, mode=Mode.STANDING, stop=None), *lead, standing)
    planned = state.step(setting)
    if planned is None:
        return _toward_release(setting, state, at, lead)
    state = _doubt_reopened(state, planned)
    stop = due_stop(state.progress.hazards, planned.step.hazards)
    if stop is not None:
        return enter_stop(setting, state, at, stop, *lead)
    asked = planned.step.stop
    reason = forbidden(state.progress.hazards, planned.step.hazards)
    if reason is None and asked is not None and asked.value not in state.since:
        if not untrue(state.progress.hazards, Stop(asked.value)):
            return enter_stop(setting, state, at, Stop(asked.value), *lead)
        reason = "asked-stop-untrue"
    if reason is not None:
        lead = (*lead, line(f"forbidden.{reason}"))
    blocked = blocking(setting, state, planned)
    if blocked is not None:
        lead = (*lead, blocked_line(blocked))
    return _open_step(setting, state, at, planned, lead)


def _ask_kit(setting: Setting, state: JobState, kit: KitCheck, lead: tuple[Line, ...]) -> Outcome:
    asked = question(kit_groups(setting, state), kit.answers)
    lines = asked.lines if asked is not None else ()
    return say(replace(state, mode=Mode.KIT, stop=None), *lead, *lines)


def _doubt_reopened(state: JobState, planned: PlannedStep) -> JobState:
    """A reopened check proves something: until it is done, that is unproven (I9).

    A stop on the way, before a reopened step, may have been passed meanwhile; then the check
    that was waiting has its hazard in doubt again too.
    """
    if not state.progress.queue and not state.troubles:
        return state
    hazards = state.progress.hazards
    for hazard, tag in fluids(planned.step.hazards):
        closing = tag in (FluidTag.CLOSE, FluidTag.PROVE)
        if closing and hazards.of(hazard) is Condition.SAFE:
            hazards = doubt(hazards, hazard, even_if_safe=True)
    return replace(state, progress=replace(state.progress, hazards=hazards))


def _open_step(
    setting: Setting, state: JobState, at: Stamp, planned: PlannedStep, lead: tuple[Line, ...]
) -> Outcome:
    told = present_step(setting, state, planned)
    state = replace(state, mode=Mode.STEP, stop=None)
    if state.opened_for == planned.id:
        # Coming back to the same step from an exchange: a reminder is enough, "say again"
        # still gives all of it, and the time the step has been open runs on.
        reminder = line("step.back_to", text=planned.step.do)
        return replace(state, last=told, last_fixed=False), (Say((*lead, reminder)),)
    state = replace(state, opened=at.mono, opened_for=planned.id)
    return say(state, *lead, *told)


def _toward_release(
    setting: Setting, state: JobState, at: Stamp, lead: tuple[Line, ...]
) -> Outcome:
    blockers = release_blockers(setting, state)
    if blockers:
        waiting = replace(state, mode=Mode.BEFORE_RELEASE, stop=None)
        return say(waiting, *lead, line("release.blocked"), *blockers)
    stop = due_stop(state.progress.hazards, None)
    return enter_stop(setting, state, at, stop or Stop.RELEASE, *lead)


def release_blockers(setting: Setting, state: JobState) -> tuple[Line, ...]:
    """Why the job can't be released now: hazards, things off, troubles, readings (I2)."""
    lines: list[Line] = []
    if forbidden(state.progress.hazards, None) is not None:
        names = [hazard.value for hazard in state.progress.hazards.open_ones()]
        lines.append(line("release.hazards", hazards=", ".join(names)))
    lines.extend(off_lines(state.progress.off))
    lines.extend(trouble_line(setting, trouble) for trouble in state.open_troubles())
    lines.extend(line("release.reading", name=name) for name in readings_absent(setting, state))
    return tuple(lines)


def trouble_line(setting: Setting, trouble: Trouble) -> Line:
    """A trouble by its kind, and by the thing that is missing."""
    kind = setting.name("trouble", trouble.kind)
    if trouble.item:
        return line("release.trouble_item", kind=kind, name=trouble.item)
    return line("release.trouble", kind=kind)


def readings_absent(setting: Setting, state: JobState) -> tuple[str, ...]:
    """Names of readings that steps asked for and that are missing or out of limits (I2)."""
    left_out = {entry.step for entry in state.progress.left_out}
    # The last one of a name counts: a good one mends an earlier one that was out of limits.
    last = {(entry.step, entry.name): entry.within for entry in state.progress.readings}
    taken = {key for key, within in last.items() if within} - set(state.progress.again)
    return tuple(
        reading.name
        for planned in setting.plan.steps[: state.progress.at]
        if planned.id not in left_out
        for reading in planned.step.readings
        if (planned.id, reading.name) not in taken
    )


def enter_stop(setting: Setting, state: JobState, at: Stamp, stop: Stop, *lead: Line) -> Outcome:
    """Enter a safety stop with a fresh number; what came before can't be undone from here on."""
    text = setting.stops.stops[stop]
    state = issue_number(replace(state, mode=Mode.STOP, stop=stop, before=()), at)
    # One that was entered but not passed is still the same one when it is entered again.
    state = replace(state, met=len(state.passed) + 1)
    return say(
        state,
        *lead,
        *stop_lines(text),
        *number_lines(state, text.read_back),
        fixed=True,
    )


def stop_lines(text: StopText) -> tuple[Line, ...]:
    """What can hurt, and what must be true."""
    return (
        line("stop.hazard", signal=text.signal.value, text=text.hazard),
        *(line("text", text=demand) for demand in text.demands),
    )


CHALLENGES: Final = tuple(
    n for n in range(10, 100) if not {"6", "8"} & set(str(n)) and len(set(str(n))) == 2
)
"""Numbers that a challenge uses. "six" is nearly all hiss: in noise it was the digit behind every
misheard number of our rehearsals (62 as 22, 16 as 14, 65 as 85). "eight" ended every number that
an accented voice said and another was heard for (28 as 21, 58 as 53, 78 as 79: 5 of 144 read-backs,
at full agreement). A digit said twice runs together ("nine nine" was heard as "nine" again and
again in one voice). So none of these is ever asked for."""


def issue_number(state: JobState, at: Stamp) -> JobState:
    """A fresh challenge number, never the one before."""
    fresh = at.fresh
    if str(fresh) == state.last_number:
        place = CHALLENGES.index(fresh) if fresh in CHALLENGES else 0
        fresh = CHALLENGES[(place + 37) % len(CHALLENGES)]
    tries = state.challenge.tries if state.challenge is not None else 0
    challenge = Challenge(str(fresh), at.mono, tries)
    return replace(state, challenge=challenge, last_number=challenge.number)


def number_lines(state: JobState, words: str) -> tuple[Line, ...]:
    """The number first, the words after it: what is said never contains the answer (I4)."""
    if state.challenge is None:
        return ()
    number = state.challenge.number
    return (
        line("stop.number", first=number[0], second=number[1]),
        line("stop.words", words=words),
    )


def doubt_open(state: JobState) -> JobState:
    """Every open hazard is unproven, and how the machine is held is asked again (I5, I9)."""
    hazards = state.progress.hazards
    for hazard in Hazard:
        hazards = doubt(hazards, hazard, even_if_safe=False)
    progress = replace(state.progress, hazards=hazards, held=False)
    return replace(state, progress=progress, standing=False, before=(), opened_for="", since=())


def current_step(setting: Setting, state: JobState) -> PlannedStep:
    """The open step.

    Raises:
        LookupError: no step is open; the transition table lets no handler come here then.
    """
    planned = state.step(setting)
    if planned is None:
        msg = "no step is open"
        raise LookupError(msg)
    return planned
