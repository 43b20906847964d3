"""Readings and timed holds: spoken, read back, affirmed, judged against their limits."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Final

from assistant.checklist.model import Reading
from assistant.checklist.plan import PlannedStep
from assistant.job.confirm import latest_reading
from assistant.job.effects import Line, line
from assistant.job.events import Heard, Tick
from assistant.job.flow import Outcome, current_step, go_on, remark, say
from assistant.job.present import reading_line
from assistant.job.state import JobState, Mode, Pending, Setting, Taken
from assistant.job.wrench import refused, wrench_lines
from assistant.trade.limits import Limits, Standing, Verdict
from assistant.trade.quantity import Quantity, parse_number, unit_named
from assistant.trade.units import rounded

_MOST_PLACES: Final = 3
"""Decimal places of a margin that is said as it is."""
_PLACES: Final = 2
"""Decimal places of one that has more."""


def reading(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """A value was spoken: read it back, digit by digit, with its unit."""
    planned = current_step(setting, state)
    value = spoken_quantity(event)
    wanted = wanted_reading(state, planned, value)
    if wanted is None:
        asked = tuple(reading_line(setting, r) for r in planned.step.readings)
        return remark(state, line("reading.wrong_quantity"), *asked)
    pending = Pending(reading=wanted, value=value)
    checking = replace(state, mode=Mode.READING_CHECK, pending=pending)
    return say(checking, read_back_line(setting, wanted, value))


def spoken_quantity(event: Heard) -> Quantity:
    """The quantity in the intent's number and unit slots."""
    number = parse_number(event.intent.get("number") or "")
    return Quantity(number, unit_named(event.intent.get("unit") or ""))


def wanted_reading(state: JobState, planned: PlannedStep, value: Quantity) -> Reading | None:
    """The reading this value answers: same kind of quantity, not yet good ones first."""
    fitting = [
        r for r in planned.step.readings if unit_named(r.unit).dimension is value.unit.dimension
    ]
    for candidate in fitting:
        taken = latest_reading(state, planned.id, candidate.name)
        if taken is None or not taken.within:
            return candidate
    return fitting[0] if fitting else None


def read_back_line(setting: Setting, wanted: Reading, value: Quantity) -> Line:
    """The value as it will be logged, with the condition that is affirmed with it."""
    digits, unit = value.number_text(), setting.name("unit", value.unit.symbol)
    if wanted.condition is None:
        return line("reading.check", name=wanted.name, digits=digits, unit=unit)
    return line(
        "reading.check_condition",
        name=wanted.name,
        digits=digits,
        unit=unit,
        condition=wanted.condition,
    )


def reading_affirmed(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The value counts: log it and judge it."""
    planned = current_step(setting, state)
    wanted, value = state.pending.reading, state.pending.value
    if wanted is None or value is None:
        return go_on(setting, state, event.at)
    verdict = judged(wanted, value)
    within = verdict.standing is Standing.WITHIN
    taken = Taken(
        step=planned.id,
        name=wanted.name,
        value=value,
        within=within,
        limits=limits_text(wanted),
        condition=wanted.condition,
        wall=event.at.wall,
        who=state.who,
    )
    old = state.progress
    moved = replace(
        old,
        readings=(*old.readings, taken),
        again=tuple(pair for pair in old.again if pair != (planned.id, wanted.name)),
    )
    state = replace(
        state,
        mode=Mode.STEP,
        pending=Pending(),
        progress=moved,
        before=(*state.before, old),
    )
    if not within:
        by = margin_text(verdict)
        return say(state, line("reading.out", name=wanted.name, by=by, limits=taken.limits))
    more = next(
        (r for r in planned.step.readings if latest_reading(state, planned.id, r.name) is None),
        None,
    )
    follow = reading_line(setting, more) if more is not None else line("reading.then")
    return say(state, _good(verdict), follow)


def judged(wanted: Reading, value: Quantity) -> Verdict:
    """How the value stands to the limits, compared exactly."""
    return Limits(wanted.at_least, wanted.at_most).judge(value)


def is_within(wanted: Reading, value: Quantity) -> bool:
    """Whether the value is inside the limits, or there are none."""
    return judged(wanted, value).standing is Standing.WITHIN


def _good(verdict: Verdict) -> Line:
    """A value that passes, with how far it is from the nearest limit."""
    if verdict.margin is None:
        return line("reading.good")
    if verdict.margin.value == 0:
        return line("reading.good_at")
    return line("reading.good_by", by=margin_text(verdict))


def margin_text(verdict: Verdict) -> str:
    """The distance to the limit, exact where that is short: 0.4 mm, 1/32 in; else rounded."""
    margin = verdict.margin
    if margin is None:
        return ""
    inches = margin.unit.symbol == "in" and 64 % margin.value.denominator == 0
    if inches or 10**_MOST_PLACES % margin.value.denominator == 0:
        return str(margin)
    about = rounded(margin, _PLACES)
    least = Quantity(Fraction(1, 10**_PLACES), margin.unit)  # a margin is never told as nothing
    return str(max(about, least, key=lambda one: one.value))


def limits_text(wanted: Reading) -> str:
    """The limits as the screen shows them, empty when there are none."""
    low, high = wanted.at_least, wanted.at_most
    if low is not None and high is not None:
        return f"{low} to {high}"
    if low is not None:
        return f"≥ {low}"
    return f"≤ {high}" if high is not None else ""


def reading_denied(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """The value was misheard: forget it and ask again."""
    planned = current_step(setting, state)
    state = replace(state, mode=Mode.STEP, pending=Pending())
    asked = tuple(reading_line(setting, r) for r in planned.step.readings)
    return say(state, line("reading.forgotten"), *asked)


def start_hold(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Begin the timed hold of this step."""
    hold = current_step(setting, state).step.hold
    if hold is None:
        return remark(state, line("hold.none"))
    pending = Pending(began=event.at.mono)
    holding = replace(_not_yet_held(state), mode=Mode.HOLDING, pending=pending)
    return say(holding, line("hold.running", time=hold.time))


def _not_yet_held(state: JobState) -> JobState:
    """An earlier hold no longer counts, and no correction brings it back."""
    before = tuple(replace(progress, held=False) for progress in state.before)
    return replace(state, progress=replace(state.progress, held=False), before=before)


def hold_seconds(setting: Setting, state: JobState) -> float:
    """How long the open step's hold lasts, seconds; 0 when it has none."""
    hold = current_step(setting, state).step.hold
    return float(hold.time.to(unit_named("s")).value) if hold is not None else 0.0


def hold_tick(setting: Setting, state: JobState, event: Tick) -> Outcome:
    """Time has passed in a hold: when it is over, ask what became of it."""
    if event.at.mono - state.pending.began < hold_seconds(setting, state):
        return state, ()
    hold = current_step(setting, state).step.hold
    what = hold.what if hold is not None else ""
    return say(replace(state, mode=Mode.HOLD_CHECK), line("hold.over", what=what))


def held(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """It held for the whole time."""
    progress = replace(state.progress, held=True)
    state = replace(
        state,
        mode=Mode.STEP,
        pending=Pending(),
        progress=progress,
        before=(*state.before, state.progress),
    )
    planned = current_step(setting, state)
    absent = [r for r in planned.step.readings if latest_reading(state, planned.id, r.name) is None]
    follow = reading_line(setting, absent[0]) if absent else line("reading.then")
    return say(state, line("hold.held"), follow)


def not_held(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """It gave way: the step stays open."""
    state = replace(state, mode=Mode.STEP, pending=Pending())
    return say(state, line("hold.failed"))


def name_side(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The side that somebody stands at: it must be the step's."""
    planned = current_step(setting, state)
    side, wanted = event.intent.get("side") or "", planned.step.side
    if side != wanted:
        return remark(state, line("side.differs", side=side, wanted=wanted or ""))
    old = state.progress
    state = replace(state, progress=replace(old, sides=(*old.sides, planned.id)))
    return remark(state, line("side.same", side=side))


def use_wrench(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Another torque wrench is in hand: judged at once; one that may not be used is not taken."""
    wanted = event.intent.get("wrench") or ""
    wrench = next((w for w in setting.wrenches if w.name == wanted), None)
    if wrench is None:
        return remark(state, line("wrench.unknown"))
    planned = state.step(setting)
    torque = planned.step.torque if planned is not None else None
    why_not = refused(wrench, torque)
    if why_not is not None:
        return remark(state, why_not)
    state = replace(state, wrench=wrench.name)
    if torque is None:
        return remark(state, line("wrench.in_hand", wrench=wrench.name))
    return remark(state, *wrench_lines(setting, state, torque))
