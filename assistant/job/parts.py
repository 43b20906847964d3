"""Parts by voice: what else came off, what went back on, and part numbers."""

from __future__ import annotations

from dataclasses import replace

from assistant.checklist.offlist import Refused
from assistant.checklist.single_use import names_single_use
from assistant.job.confirm import refused_line
from assistant.job.effects import line
from assistant.job.events import Dictated, Heard
from assistant.job.flow import Outcome, current_step, go_on, remark, say
from assistant.job.state import JobState, Mode, Pending, Setting, Trouble
from assistant.trade.quantity import parse_number


def also_off(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Something came off that the checklist does not name: ask what."""
    return say(replace(state, mode=Mode.OFF_PART, pending=Pending()), line("off.ask"))


def back_on(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Something that was added by voice is back: ask what."""
    if not _added(state):
        return remark(state, line("off.nothing_added"))
    state = replace(state, mode=Mode.OFF_PART, pending=Pending(back=True))
    return say(state, line("off.ask_back"))


_ADDED = "added by voice"


def added_name(words: str) -> str:
    """The name on the off-list of a part that was added by voice."""
    return f"{words}, {_ADDED}"


def _added(state: JobState) -> tuple[str, ...]:
    items = state.progress.off.open_items()
    return tuple(item.item for item in items if item.item.endswith(_ADDED))


def name_part(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The part has a name here: ask how many, or whether all of them are back."""
    words = setting.name("part", event.intent.get("part") or "")
    name = added_name(words)
    if state.pending.back:
        return _check_back(setting, state, name)
    pending = replace(state.pending, part=name)
    return say(replace(state, mode=Mode.OFF_COUNT, pending=pending), line("off.count", item=words))


def other_part(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """The part has no name here: keep the name as it is spoken, or take the last such part."""
    if state.pending.back:
        named = {added_name(words) for words in setting.names.get("part", {}).values()}
        labels = [name for name in _added(state) if name not in named]
        return _check_back(setting, state, labels[-1] if labels else "")
    return say(replace(state, mode=Mode.OFF_LABEL), line("off.label"))


def label_spoken(_setting: Setting, state: JobState, event: Dictated) -> Outcome:
    """The spoken name is kept as a clip, or as text when it was typed; ask how many."""
    number = sum(name.startswith("spoken part") for name in _added(state)) + 1
    words = event.text or f"spoken part {number}"
    pending = replace(state.pending, part=added_name(words))
    return say(replace(state, mode=Mode.OFF_COUNT, pending=pending), line("off.count", item=words))


def _check_back(setting: Setting, state: JobState, name: str) -> Outcome:
    count = state.progress.off.count_of(name)
    if count == 0:
        return remark(state, line("off.not_on_list"))
    pending = Pending(part=name, count=count, back=True)
    checking = replace(state, mode=Mode.BACK_CHECK, pending=pending)
    if names_single_use(name, setting.plan.language):
        return say(checking, line("off.check_back_new", count=count, item=name))
    return say(checking, line("off.check_back", count=count, item=name))


def name_count(_setting: Setting, state: JobState, event: Heard) -> Outcome:
    """How many: read the item and the count back."""
    count = int(parse_number(event.intent.get("cardinal") or "0"))
    pending = replace(state.pending, count=count)
    checking = replace(state, mode=Mode.OFF_CHECK, pending=pending)
    return say(checking, line("off.check", count=count, item=pending.part or ""))


def off_affirmed(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The item is on the off-list."""
    part, count = state.pending.part or "", state.pending.count
    old = state.progress
    single_use = names_single_use(part, setting.plan.language)
    moved = replace(old, off=old.off.take_off(part, count, single_use=single_use))
    state = replace(state, progress=moved, before=(*state.before, old))
    return go_on(setting, state, event.at, line("off.added"))


def back_affirmed(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The item is off the off-list."""
    part, count = state.pending.part or "", state.pending.count
    old = state.progress
    off = old.off.put_back(part, count, new=names_single_use(part, setting.plan.language))
    if isinstance(off, Refused):
        return go_on(setting, state, event.at, refused_line(off))
    moved = replace(old, off=off)
    state = replace(state, progress=moved, before=(*state.before, old))
    return go_on(setting, state, event.at, line("off.returned"))


def read_part_number(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Ask for the number on the part in hand, if the step names one."""
    numbers = [part.number for part in current_step(setting, state).step.parts if part.number]
    if not numbers:
        return remark(state, line("number.none"))
    return say(replace(state, mode=Mode.PART_NUMBER, pending=Pending()), line("number.ask"))


def part_number(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """Compare the spoken number with the checklist's: the same, or do not fit it."""
    spoken = event.intent.get("characters") or ""
    parts = current_step(setting, state).step.parts
    for part in parts:
        if part.number is not None and part.number.replace("-", "") == spoken:
            old = state.progress
            read = (*old.read, (current_step(setting, state).id, part.number))
            state = replace(state, progress=replace(old, read=read))
            return go_on(setting, state, event.at, line("number.same", name=part.name))
    wanted = ", ".join(part.number for part in parts if part.number)
    differs = line("number.differs", spoken=spoken, wanted=wanted)
    wrong = Trouble("wrong-part", current_step(setting, state).id, event.at.wall, state.who)
    state = replace(state, troubles=(*state.troubles, wrong))
    return go_on(setting, state, event.at, differs, line("trouble.open"))
