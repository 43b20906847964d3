"""Answers to the kit check: what is here, what is missing, and an answer taken back."""

from __future__ import annotations

from dataclasses import replace

from assistant.job.effects import Line, line
from assistant.job.events import Heard, Opened
from assistant.job.flow import Outcome, go_on, remark
from assistant.job.kit import Question, kit_groups, question
from assistant.job.state import JobState, KitCheck, Setting, Trouble


def begun(setting: Setting, state: JobState, event: Opened) -> JobState:
    """The kit is checked first, where that was asked for and the job needs anything."""
    asked = event.kit and bool(kit_groups(setting, state))
    return replace(state, kit=KitCheck() if asked else None)


def here(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """It is here: the next one, or the first step."""
    return _answered(setting, state, event, here=True)


def missing(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Of a group one by one; a single thing is an open trouble that blocks the release."""
    asked = _asked(setting, state)
    if asked is None or len(asked.things) > 1:
        return _answered(setting, state, event, here=False)
    (thing,) = asked.things
    trouble = Trouble(thing.kind, "", event.at.wall, state.who, item=thing.name)
    state = replace(state, troubles=(*state.troubles, trouble))
    logged = line("kit.missing", name=thing.name)
    return _answered(setting, state, event, logged, here=False)


def _answered(setting: Setting, state: JobState, event: Heard, *lead: Line, here: bool) -> Outcome:
    kit = state.kit or KitCheck()
    kit = replace(kit, answers=(*kit.answers, here))
    state = replace(state, kit=kit)
    if _asked(setting, state) is not None:
        return go_on(setting, state, event.at, *lead)
    state = replace(state, kit=replace(kit, over=True))
    return go_on(setting, state, event.at, *lead, line("kit.done"))


def taken_back(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The last answer is withdrawn, with the trouble that it was; it is asked anew."""
    kit = state.kit
    if kit is None or not kit.answers:
        return remark(state, line("kit.nothing_back"))
    state = replace(state, kit=replace(kit, answers=kit.answers[:-1]))
    asked = _asked(setting, state)
    if not kit.answers[-1] and asked is not None and len(asked.things) == 1:
        state = _not_missing(state, asked.things[0].name)
    return go_on(setting, state, event.at, line("correction.done"))


def _not_missing(state: JobState, item: str) -> JobState:
    """The last trouble about this thing is cleared; the record keeps it as that."""
    places = [i for i, t in enumerate(state.troubles) if t.item == item and not t.cleared]
    troubles = list(state.troubles)
    for place in places[-1:]:
        troubles[place] = replace(troubles[place], cleared=True)
    return replace(state, troubles=tuple(troubles))


def _asked(setting: Setting, state: JobState) -> Question | None:
    return question(kit_groups(setting, state), state.kit.answers) if state.kit else None
