"""Safety stops, the freeze, and alarms: what ends only with its own read-back."""

from __future__ import annotations

from dataclasses import replace

from assistant.job.confirm import confirm
from assistant.job.effects import BeQuiet, Close, Line, Say, line
from assistant.job.events import Heard, Stamp
from assistant.job.flow import (
    Outcome,
    doubt_open,
    go_on,
    issue_number,
    number_lines,
    say,
    stop_lines,
    then,
)
from assistant.job.reopen import ALARMED
from assistant.job.state import JobState, Mode, Passed, Pending, Setting, Trouble
from assistant.safety.hazards import Stop, after_stop, doubt, due_stop


def stop_read_back(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """A read-back at a safety stop: exact words and the live number, or a fresh number (I3)."""
    stop = state.stop
    wrong = _what_is_wrong(setting, state, event, stop.value if stop is not None else "")
    if wrong is not None or stop is None:
        return _ask_afresh(setting, state, event.at, wrong or "stop.wrong")
    challenge = state.challenge
    first = Passed(
        stop=stop.value,
        number=challenge.number if challenge is not None else "",
        tries=challenge.tries + 1 if challenge is not None else 1,
        wall=event.at.wall,
        who=state.who,
        via=event.via,
    )
    if state.who in setting.apprentices:
        return _ask_second(setting, state, event.at, stop, first)
    return _passed(setting, state, event, stop, first)


def _ask_second(setting: Setting, state: JobState, at: Stamp, stop: Stop, first: Passed) -> Outcome:
    """An apprentice's stop: the second person hears the demands and a number of their own (I10)."""
    text = setting.stops.stops[stop]
    if state.second is None:
        alone = issue_number(state, at)
        lines = (line("second.nobody"), *number_lines(alone, text.read_back))
        return say(alone, *lines, fixed=True)
    asked = replace(state, mode=Mode.STOP_SECOND, pending=Pending(first=first), challenge=None)
    asked = issue_number(asked, at)
    lines = (
        line("stop.second", name=setting.name_of(state.second)),
        *stop_lines(text),
        *number_lines(asked, setting.stops.second_person),
    )
    return say(asked, *lines, fixed=True)


def second_at_stop(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The second person's own words and number at an apprentice's stop."""
    wrong = _what_is_wrong(setting, state, event, "second_person")
    stop, first, challenge = state.stop, state.pending.first, state.challenge
    if wrong is not None or stop is None or first is None or challenge is None:
        return _ask_afresh(setting, state, event.at, wrong or "stop.wrong")
    both = replace(first, second=state.second, second_number=challenge.number)
    return _passed(setting, replace(state, pending=Pending()), event, stop, both)


def _what_is_wrong(setting: Setting, state: JobState, event: Heard, words: str) -> str | None:
    challenge = state.challenge
    if challenge is None or event.at.mono - challenge.issued > setting.limits.challenge:
        return "stop.expired"
    if event.intent.get("read_back") != words:
        return "stop.wrong"
    return None if event.intent.get("challenge") == challenge.number else "stop.wrong_number"


def _ask_afresh(setting: Setting, state: JobState, at: Stamp, why: str) -> Outcome:
    """A wrong or late answer: one more try counted, and never the same number again."""
    if state.challenge is not None:
        counted = replace(state.challenge, tries=state.challenge.tries + 1)
        state = replace(state, challenge=counted)
    state = issue_number(state, at)
    lines: list[Line] = [line(why)]
    if state.challenge is not None and state.challenge.tries >= setting.limits.tries:
        lines.append(line("stop.step_back"))
    words = _words_wanted(setting, state)
    return say(state, *lines, *number_lines(state, words), fixed=True)


def _words_wanted(setting: Setting, state: JobState) -> str:
    if state.mode is Mode.STOP and state.stop is not None:
        return setting.stops.stops[state.stop].read_back
    if state.mode in (Mode.SECOND_PERSON, Mode.STOP_SECOND):
        return setting.stops.second_person
    return setting.stops.freeze


def _passed(setting: Setting, state: JobState, event: Heard, stop: Stop, entry: Passed) -> Outcome:
    releasing = state.step(setting) is None
    progress = state.progress
    planned = state.step(setting)
    tags = planned.step.hazards if planned is not None else None
    hazards = progress.hazards
    if stop is due_stop(hazards, tags):
        hazards = after_stop(hazards, stop, releasing=releasing)
    # One that only the author asked for changes nothing: it can't talk a hazard safe.
    state = replace(
        state,
        progress=replace(progress, hazards=hazards),
        passed=(*state.passed, entry),
        since=(*state.since, stop.value),
        challenge=None,
        before=(),
    )
    if stop is Stop.RELEASE:
        ended = replace(state, mode=Mode.RELEASED, stop=None, ended=event.at.wall)
        return then(say(ended, line("release.done")), (ended, (Close("released"),)))
    return go_on(setting, state, event.at, line("stop.passed"))


def second_read_back(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """At a marked step the second person's own words and number; else it is asked again, afresh."""
    wrong = _what_is_wrong(setting, state, event, "second_person")
    if wrong is not None:
        return _ask_afresh(setting, state, event.at, wrong)
    return confirm(setting, state, event, state.second)


def freeze(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Silence at once; nothing counts until the freeze's own read-back, and hazards are doubted."""
    return _frozen(state), (BeQuiet(),)


def _frozen(state: JobState) -> JobState:
    return replace(
        doubt_open(state), mode=Mode.FROZEN, pending=Pending(), challenge=None, stop=None
    )


def unfreeze_ask(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Going on after a freeze needs its read-back: give the number and the words."""
    asked = issue_number(state, event.at)
    return say(asked, *number_lines(asked, setting.stops.freeze), fixed=True)


def freeze_read_back(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The freeze ends with its own words and number."""
    wrong = _what_is_wrong(setting, state, event, "freeze")
    if wrong is not None:
        return _ask_afresh(setting, state, event.at, wrong)
    return go_on(setting, replace(state, challenge=None), event.at)


def alarm(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Something smells, smokes or leaks: the hazard is unproven at once (I9)."""
    name = event.intent.name
    hazards = state.progress.hazards
    for hazard in ALARMED[name]:
        hazards = doubt(hazards, hazard, even_if_safe=True)
    planned = state.step(setting)
    trouble = Trouble(
        kind=name,
        step=planned.id if planned is not None else "",
        wall=event.at.wall,
        who=state.who,
        done_before=len(state.progress.done),
    )
    state = replace(
        state,
        progress=replace(state.progress, hazards=hazards, held=False),
        before=(),
        troubles=(*state.troubles, trouble),
        opened_for="",
    )
    warning = line(f"alarm.{name}")
    if name == "smoke" or state.mode is Mode.FROZEN:
        return _frozen(state), (BeQuiet(), Say((warning,), fixed=True))
    if state.mode is Mode.STAND_BY:
        return say(state, warning, fixed=True)
    return go_on(setting, state, event.at, warning)
