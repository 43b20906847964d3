"""Pauses, hand-over, starting again, timers: breaks in the work and what they cost."""

from __future__ import annotations

from dataclasses import replace

from assistant.job import kit_check
from assistant.job.effects import BeQuiet, Line, Say, line
from assistant.job.events import Earlier, Heard, Opened, Resumed, Tick
from assistant.job.flow import (
    Outcome,
    doubt_open,
    go_on,
    issue_number,
    number_lines,
    release_blockers,
    remark,
    say,
)
from assistant.job.state import JobState, Mode, Pending, Setting, Timer
from assistant.trade.quantity import parse_number

_MOST_TOLD = 5
"""Aloud; the report has all. Our choice: about half a minute of listening."""


def opened(setting: Setting, state: JobState, event: Opened) -> Outcome:
    """The job begins: who, which vehicle, the kit where it is checked, how the machine is held."""
    state = replace(
        state,
        job=event.job,
        vehicle=event.vehicle,
        who=event.who,
        second=event.second if event.second != event.who else None,  # never the same (I10)
        began=event.at.wall,
        people=(event.who,),
        earlier=event.earlier,
    )
    state = kit_check.begun(setting, state, event)
    hello = line("job.opened", title=setting.plan.title, name=setting.name_of(event.who))
    kit = (line("kit.begin"),) if state.kit is not None else ()
    return go_on(setting, state, event.at, hello, *_earlier_lines(event.earlier), *kit)


def _earlier_lines(earlier: tuple[Earlier, ...]) -> tuple[Line, ...]:
    """What earlier jobs left open on this machine, the latest first; a long list is cut."""
    if not earlier:
        return ()
    told = [line(f"earlier.{e.kind}", days=str(e.days), what=e.what) for e in earlier[:_MOST_TOLD]]
    more = len(earlier) - len(told)
    rest = (line("earlier.more", count=str(more)),) if more else ()
    return (line("earlier.begin", count=str(len(earlier))), *told, *rest)


def stand_by(_setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Pause; what was pending is dropped and asked again afterwards."""
    paused = replace(
        state,
        mode=Mode.STAND_BY,
        paused_at=event.at.mono,
        pending=Pending(),
        challenge=None,
        opened_for="",
    )
    return say(paused, line("pause.begun"))


def carry_on(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Go on; after a long break what is open is confirmed again before the next step (I5)."""
    if event.at.mono - state.paused_at <= setting.limits.long_break:
        return go_on(setting, state, event.at)
    return go_on(setting, doubt_open(state), event.at, line("pause.long"))


def look_again(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Before the release: see whether everything is in order now."""
    return go_on(setting, state, event.at)


def quiet(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Stop speaking; nothing else changes."""
    return state, (BeQuiet(),)


def hand_over(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Read out what the next person takes over; they must agree themselves."""
    to = event.intent.get("name") or ""
    if to not in setting.roster:
        return remark(state, line("hand_over.unknown"))
    if to == state.who:
        return remark(state, line("hand_over.same", name=setting.name_of(to)))
    state = replace(state, mode=Mode.HAND_OVER, pending=Pending(to=to))
    return say(state, *_handed_over(setting, state, to))


def _handed_over(setting: Setting, state: JobState, to: str) -> tuple[Line, ...]:
    blockers = release_blockers(setting, state)
    return (
        line("hand_over.begin", name=setting.name_of(to)),
        *(blockers or (line("hand_over.nothing"),)),
        line("hand_over.ask", name=setting.name_of(to)),
    )


def taken_over(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The next person took over; everything open is confirmed again by them (I5)."""
    to = state.pending.to or state.who
    second = _second_for(setting, state, to)
    people = state.people if to in state.people else (*state.people, to)
    state = replace(doubt_open(state), who=to, second=second, people=people)
    return go_on(setting, state, event.at, line("hand_over.done", name=setting.name_of(to)))


def _second_for(setting: Setting, state: JobState, who: str) -> str | None:
    """The second person when this one does the work: never the same, and one for an apprentice.

    Who took over gives that part to who left.
    """
    nobody = state.second is None and who in setting.apprentices and who != state.who
    return state.who if state.second == who or nobody else state.second


def resumed(setting: Setting, state: JobState, event: Resumed) -> Outcome:
    """The program starts again on this job: what is open is confirmed again (I5).

    A freeze outlives the program: its read-back is asked for at once.
    """
    who = event.who or state.who
    second = _second_for(setting, state, who)
    people = state.people if who in state.people else (*state.people, who)
    lost = tuple(line("timer.lost", minutes=timer.minutes) for timer in state.timers)
    state = replace(
        doubt_open(state), who=who, second=second, people=people, timers=(), pending=Pending()
    )
    done = len(state.progress.done)
    hello = line("job.resumed", name=setting.name_of(who), done=done)
    if event.changed:
        lost = (line("job.checklist_changed"), *lost)
    if state.mode is Mode.FROZEN:
        asked = issue_number(replace(state, challenge=None), event.at)
        return say(asked, hello, *lost, *number_lines(asked, setting.stops.freeze), fixed=True)
    state = replace(state, mode=Mode.STEP, stop=None, challenge=None)
    return go_on(setting, state, event.at, hello, *lost)


def start_timer(_setting: Setting, state: JobState, event: Heard) -> Outcome:
    """A timer of the technician's own."""
    minutes = event.intent.get("number") or ""
    due = event.at.mono + float(parse_number(minutes)) * 60
    state = replace(state, timers=(*state.timers, Timer(due, minutes)))
    return remark(state, line("timer.started", minutes=minutes))


def timers_tick(state: JobState, event: Tick) -> Outcome:
    """Tell the timers that are due, and forget them."""
    due = tuple(timer for timer in state.timers if timer.due <= event.at.mono)
    if not due:
        return state, ()
    state = replace(state, timers=tuple(t for t in state.timers if t not in due))
    return state, (Say(tuple(line("timer.over", minutes=t.minutes) for t in due)),)
