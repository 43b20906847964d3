"""Confirming a step, taking a confirmation back, leaving a step out."""

from __future__ import annotations

from dataclasses import replace

from assistant.checklist.model import Part
from assistant.checklist.offlist import OffList, Refused
from assistant.checklist.plan import PlannedStep
from assistant.job.effects import Line, line
from assistant.job.events import Heard
from assistant.job.flow import (
    Outcome,
    current_step,
    go_on,
    issue_number,
    number_lines,
    remark,
    say,
)
from assistant.job.interlock import blocked_line, blocking
from assistant.job.pace import least_seconds
from assistant.job.present import reading_line, torque_lines
from assistant.job.state import Done, JobState, LeftOut, Mode, Pending, Progress, Setting, Taken
from assistant.job.wrench import fitting
from assistant.safety.hazards import after_step, due_stop, forbidden


def step_done(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The open step is said to be done: check what it still needs, then confirm it."""
    planned = current_step(setting, state)
    missing = still_needed(setting, state, planned)
    if missing is not None:
        return remark(state, missing)
    if event.at.mono - state.opened < least_seconds(planned):
        return say(replace(state, mode=Mode.PACE_CHECK), line("pace.ask"))
    return agreed(setting, state, event)


def still_needed(setting: Setting, state: JobState, planned: PlannedStep) -> Line | None:
    """What keeps the open step from being confirmed, or None."""
    refused = _not_allowed(setting, state, planned)
    if refused is not None:
        return refused
    for reading in planned.step.readings:
        taken = latest_reading(state, planned.id, reading.name)
        if taken is None:
            return reading_line(setting, reading)
        if not taken.within and not any(t.step == planned.id for t in state.open_troubles()):
            return line("reading.out_needs_decision", name=reading.name)
    unsaid = _unsaid(state, planned)
    if unsaid is not None:
        return unsaid
    off = off_after(setting, state.progress, planned)
    return refused_line(off) if isinstance(off, Refused) else None


def _unsaid(state: JobState, planned: PlannedStep) -> Line | None:
    """The side, the part's number or the timed hold that the step still wants, or None."""
    if side_unsaid(state, planned):
        return line("side.ask")
    part = unread_number(state, planned)
    if part is not None:
        return line("number.needed", name=part.name)
    hold = planned.step.hold
    if hold is not None and not state.progress.held:
        return line("hold.needed", time=hold.time, what=hold.what)
    return None


def side_unsaid(state: JobState, planned: PlannedStep) -> bool:
    """Whether the side that the step is done on must still be said."""
    return planned.step.side is not None and planned.id not in state.progress.sides


def unread_number(state: JobState, planned: PlannedStep) -> Part | None:
    """The first part whose own number must be read aloud and was not, or None."""
    return next(
        (
            part
            for part in planned.step.parts
            if part.read and part.number and (planned.id, part.number) not in state.progress.read
        ),
        None,
    )


def _not_allowed(setting: Setting, state: JobState, planned: PlannedStep) -> Line | None:
    """Why the step must not be done now: a hazard, a stop that is due, an interlock."""
    tags = planned.step.hazards
    hazards, asked = state.progress.hazards, planned.step.stop
    reason = forbidden(hazards, tags)
    if reason is not None:
        return line(f"forbidden.{reason}")
    if asked is not None and asked.value not in state.since:
        return line("forbidden.asked-stop-untrue")  # true ones are asked before the step opens
    if due_stop(hazards, tags) is not None:
        return line("forbidden.stop-due")
    blocked = blocking(setting, state, planned)
    return blocked_line(blocked) if blocked is not None else None


def latest_reading(state: JobState, step: str, name: str) -> Taken | None:
    """The last affirmed reading of this name in this step; None if it must be taken again."""
    if (step, name) in state.progress.again:
        return None
    found = [r for r in state.progress.readings if r.step == step and r.name == name]
    return found[-1] if found else None


def agreed(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The doer has confirmed; a marked step now asks the second person, others are done."""
    planned = current_step(setting, state)
    if not planned.step.second_person:
        return confirm(setting, state, event, None)
    if state.second is None:
        return go_on(setting, state, event.at, line("second.nobody"))
    asked = issue_number(replace(state, mode=Mode.SECOND_PERSON), event.at)
    name = setting.name_of(state.second)
    return say(
        asked,
        line("second.ask", name=name),
        line("text", text=planned.step.do),
        *torque_lines(planned.step),
        *(reading_line(setting, reading) for reading in planned.step.readings),
        *number_lines(asked, setting.stops.second_person),
        fixed=True,
    )


def confirm(setting: Setting, state: JobState, event: Heard, second: str | None) -> Outcome:
    """Enter the confirmation: hazards, off-list and progress move, and the next thing opens."""
    planned = current_step(setting, state)
    old, torque = state.progress, planned.step.torque
    found = fitting(setting, state, torque) if torque is not None else None
    done = Done(
        step=planned.id,
        number=planned.number,
        wall=event.at.wall,
        who=state.who,
        seconds=round(event.at.mono - state.opened, 1),
        via=event.via,
        second=second,
        wrench=found.name if found is not None else "",
        set_to=found.set_to if found is not None else "",
    )
    off = off_after(setting, old, planned)
    if isinstance(off, Refused):
        return remark(state, refused_line(off))
    moved = replace(
        old,
        at=old.at if old.queue else old.at + 1,
        queue=old.queue[1:],
        hazards=after_step(old.hazards, planned.step.hazards),
        off=off,
        done=(*old.done, done),
        held=False,
    )
    state = replace(state, progress=moved, before=(*state.before, old), opened_for="", since=())
    if planned.step.shifts_balance:
        state = replace(state, standing=False)
    return go_on(setting, state, event.at, line("step.confirmed"))


def off_after(setting: Setting, progress: Progress, planned: PlannedStep) -> OffList | Refused:
    """The off-list once this step is done, or why something can't go back."""
    if progress.queue:  # a step done again has nothing more to take off or put back
        return progress.off
    off = progress.off
    for gone in planned.step.off:
        single_use = gone.item in setting.plan.single_use
        off = off.take_off(
            gone.item, gone.count, gone.how, gone.where, gone.mark, single_use=single_use
        )
    for back in planned.step.back:
        returned = off.put_back(back.item, back.count, new=back.new)
        if isinstance(returned, Refused):
            return returned
        off = returned
    return off


def refused_line(refused: Refused) -> Line:
    """Why something can't go back, as a line."""
    return line(f"off.refused.{refused.reason}", item=refused.item)


def not_so_quick(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The questioned confirmation is withdrawn: the step stays open."""
    return go_on(setting, state, event.at, line("pace.open"))


def correction(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Withdraw the last confirmation; the record keeps both."""
    if not state.before:
        return remark(state, line("correction.nothing"))
    back = replace(state, progress=state.before[-1], before=state.before[:-1], opened_for="")
    return go_on(setting, back, event.at, line("correction.done"))


def go_back(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Open the step before again; a safety stop is never crossed."""
    now = state.progress
    for depth in range(len(state.before) - 1, -1, -1):
        earlier = state.before[depth]
        if (earlier.at, earlier.queue) != (now.at, now.queue):
            back = replace(state, progress=earlier, before=state.before[:depth], opened_for="")
            return go_on(setting, back, event.at, line("back.done"))
    return remark(state, line("back.not_across_stop"))


def leave_out(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Ask for the reason, if this step may be left out at all."""
    planned = current_step(setting, state)
    if not may_leave_out(planned):
        return remark(state, line("leave_out.refused"))
    return say(replace(state, mode=Mode.REASON), line("leave_out.ask"))


def may_leave_out(planned: PlannedStep) -> bool:
    """Only an optional step that touches no hazard may be left out."""
    tags = planned.step.hazards
    untouched = tags.battery is None and tags.fuel is None and tags.brake is None
    return planned.step.optional and untouched


def leave_out_reason(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The step is left out for this reason."""
    planned = current_step(setting, state)
    reason = event.intent.get("reason") or ""
    gone = LeftOut(planned.id, planned.number, reason, event.at.wall, state.who)
    old = state.progress
    moved = replace(
        old,
        at=old.at if old.queue else old.at + 1,
        queue=old.queue[1:],
        left_out=(*old.left_out, gone),
    )
    state = replace(state, progress=moved, before=(*state.before, old), opened_for="")
    return go_on(
        setting, state, event.at, line("leave_out.done", reason=setting.name("reason", reason))
    )


def standing_affirmed(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The machine is held as it must be."""
    return go_on(setting, replace(state, standing=True), event.at)


def standing_denied(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """The machine is not held: nothing opens until it is."""
    state = replace(state, pending=Pending())
    return say(state, line("standing.fix", standing=setting.plan.standing))
