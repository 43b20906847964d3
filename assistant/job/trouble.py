"""Troubles and notes: what went wrong, in the technician's own voice."""

from __future__ import annotations

from dataclasses import replace

from assistant.job.effects import Line, line
from assistant.job.events import Dictated, Heard
from assistant.job.flow import Outcome, go_on, remark, say
from assistant.job.interlock import blocking
from assistant.job.reopen import after_trouble
from assistant.job.state import JobState, Mode, Note, Pending, Setting, Trouble
from assistant.safety.hazards import UNSHUT, Stop, fluids, forbidden, pass_stops, untrue


def report_trouble(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Ask what kind of trouble it is."""
    state = replace(state, mode=Mode.TROUBLE_KIND, pending=Pending(), challenge=None)
    return say(state, line("trouble.ask"))


def trouble_kind(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The kind is known; ask for a spoken note about it."""
    kind = event.intent.get("trouble") or "other"
    state = replace(state, mode=Mode.TROUBLE_NOTE, pending=Pending(kind=kind))
    return say(state, line("trouble.describe", kind=setting.name("trouble", kind)))


def trouble_described(setting: Setting, state: JobState, event: Dictated) -> Outcome:
    """The trouble is entered; it stays open and blocks the release until it is cleared."""
    planned = state.step(setting)
    trouble = Trouble(
        kind=state.pending.kind or "other",
        step=planned.id if planned is not None else "",
        wall=event.at.wall,
        who=state.who,
        seconds=event.seconds,
        clip=event.clip.file if event.clip is not None else None,
        text=event.text,
    )
    state = replace(state, troubles=(*state.troubles, trouble))
    return go_on(setting, state, event.at, line("trouble.open"))


def trouble_cleared(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The latest open trouble is put right; the checks its step names are done again."""
    still_open = [i for i, t in enumerate(state.troubles) if not t.cleared]
    if not still_open:
        return remark(state, line("trouble.none"))
    index = still_open[-1]
    cleared = state.troubles[index]
    troubles = list(state.troubles)
    troubles[index] = replace(cleared, cleared=True)
    mended = after_trouble(setting, replace(state, troubles=tuple(troubles)), cleared)
    if any(_not_now(setting, mended, index) for index in mended.progress.queue):
        # Its checks can't be done while the work on them is open: it stays open until then.
        return remark(state, line("trouble.not_yet"))
    return go_on(
        setting,
        mended,
        event.at,
        _cleared_line(setting, cleared),
    )


def _cleared_line(setting: Setting, cleared: Trouble) -> Line:
    """What was put right, by its kind or by the thing that is here now."""
    if cleared.item:
        return line("kit.found", name=cleared.item)
    return line("trouble.cleared", kind=setting.name("trouble", cleared.kind))


def _not_now(setting: Setting, state: JobState, index: int) -> bool:
    """Whether a reopened step could not be done now: its hazard is open, or an interlock holds."""
    planned = setting.plan.steps[index]
    hazards, tags = state.progress.hazards, planned.step.hazards
    # A closing done again in the middle of the next opening would leave that without an end.
    if any(tag is not None and hazards.of(hazard) in UNSHUT for hazard, tag in fluids(tags)):
        return True
    asked = planned.step.stop
    hazards, _ = pass_stops(hazards, tags)  # its stops come first, and make it allowed
    if asked is not None and untrue(hazards, Stop(asked.value)):
        return True
    return forbidden(hazards, tags) is not None or blocking(setting, state, planned) is not None


def take_note(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Begin a spoken note; nothing in it is a command but its end phrase."""
    state = replace(state, mode=Mode.NOTE, pending=Pending(), challenge=None)
    return say(state, line("note.begin"))


def note_taken(setting: Setting, state: JobState, event: Dictated) -> Outcome:
    """The note is in the record."""
    planned = state.step(setting)
    note = Note(
        step=planned.id if planned is not None else "",
        seconds=event.seconds,
        wall=event.at.wall,
        who=state.who,
        clip=event.clip.file if event.clip is not None else None,
        text=event.text,
    )
    state = replace(state, notes=(*state.notes, note))
    return go_on(setting, state, event.at, line("note.kept", seconds=round(event.seconds)))


def never_mind(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The present exchange is dropped; nothing in it counts."""
    return go_on(setting, state, event.at, line("disregard.done"))
