"""The job as a pure function: a state and an event become a new state and effects."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from assistant.job import table
from assistant.job.effects import Say, line
from assistant.job.events import Dictated, Event, Heard, Opened, Resumed, Tick, Unclear
from assistant.job.flow import Outcome, remark
from assistant.job.pause import timers_tick
from assistant.job.state import JobState, Mode, Setting


class IllegalTransition(AssertionError):  # noqa: N818 - a programming error, not a user's
    """A handler led to a mode that the table does not allow."""


def advance(setting: Setting, state: JobState, event: Event) -> Outcome:
    """One event happens.

    Returns:
        The new state and what the edges must do, in order. An event that the transition
        table does not admit in this mode is refused aloud and changes nothing.

    Raises:
        IllegalTransition: a handler broke the table; a programming error.
    """
    if isinstance(event, Unclear):
        return _unclear(state)
    state, due = timers_tick(state, event) if isinstance(event, Tick) else (state, ())
    rule = table.TABLE.get((state.mode, _name(event)))
    if rule is None:
        return (state, due) if isinstance(event, Tick) else _refused(state)
    if isinstance(event, Heard):
        state = replace(state, unclear=0)
    after, effects = rule.handler(setting, state, event)
    if after.mode not in rule.to:
        msg = f"{state.mode} --{_name(event)}--> {after.mode} is not in the transition table"
        raise IllegalTransition(msg)
    return after, due + effects


def _name(event: Event) -> str:
    if isinstance(event, Heard):
        return event.intent.name
    if isinstance(event, Opened):
        return table.OPENED
    if isinstance(event, Resumed):
        return table.RESUMED
    if isinstance(event, Dictated):
        return table.DICTATED
    return table.TICK


def _refused(state: JobState) -> Outcome:
    if state.mode in (Mode.NEW, Mode.RELEASED):
        return state, ()
    return remark(state, line("refused.not_now"))


def _unclear(state: JobState) -> Outcome:
    """Not understood: ask once, then offer the keys; silence and doubt never confirm (I8)."""
    if state.mode in (Mode.NEW, Mode.RELEASED, Mode.STAND_BY, Mode.FROZEN):
        return state, ()
    state = replace(state, unclear=state.unclear + 1)
    return state, (Say((line("unclear.keys" if state.unclear > 1 else "unclear.again"),)),)


def replay(setting: Setting, events: Iterable[Event]) -> JobState:
    """The state after these events: resuming a job is this and nothing else."""
    state = JobState()
    for event in events:
        state, _ = advance(setting, state, event)
    return state
