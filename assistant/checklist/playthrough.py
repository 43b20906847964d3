"""The off-list, played through on every choice of options that can make a difference."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from assistant.checklist.expand import (
    Candidate,
    candidates,
    holds,
    option_sets,
    option_text,
    options_text,
)
from assistant.checklist.loader import Loaded
from assistant.checklist.model import OptionValue
from assistant.checklist.offlist import OffList, Refused
from assistant.errors import BadInput, Finding

MAX_OPTION_SETS: Final = 4_096


def option_findings(loaded: Loaded) -> Iterator[Finding]:
    """What goes wrong on some choice of options: things left off, steps that never apply."""
    everything = candidates(loaded)
    try:
        sets = tuple(option_sets(loaded, MAX_OPTION_SETS))
    except BadInput as error:
        message = str(error).removeprefix(f"{loaded.file}: ")
        line = loaded.node.line_of("options")
        yield Finding("error", "too-many-options", loaded.file, line, message)
        return
    conditions = {candidate.when for candidate in everything}
    moving = [c for c in everything if c.planned.step.off or c.planned.step.back]
    told: set[tuple[str, str]] = set()
    for options in sets:
        holding = {when for when in conditions if holds(when, options)}
        if not holding:
            yield _empty(loaded, options)
        for key, finding in _played([c for c in moving if c.when in holding], options):
            if key not in told:
                told.add(key)
                yield finding
    for candidate in everything:
        if any(dict(candidate.when)[name] != value for name, value in candidate.when):
            message = f'step "{candidate.planned.id}" applies on no choice of options; see when'
            where = candidate.planned
            yield Finding("warning", "never-applies", where.file, where.line, message)


def _empty(loaded: Loaded, options: Mapping[str, OptionValue]) -> Finding:
    line = loaded.node.line_of("sections")
    message = f"no step applies with {options_text(options)}"
    return Finding("error", "no-step", loaded.file, line, message, _path(options))


def _path(options: Mapping[str, OptionValue], *steps: str) -> tuple[str, ...]:
    return (*(f"{name}={option_text(value)}" for name, value in options.items()), *steps)


def _played(
    steps: list[Candidate], options: Mapping[str, OptionValue]
) -> Iterator[tuple[tuple[str, str], Finding]]:
    """The off-list over one choice of options; a key beside each finding tells it from others."""
    off = OffList()
    came_off: dict[str, Candidate] = {}
    with_options = f" with {options_text(options)}" if options else ""
    for candidate in steps:
        planned = candidate.planned
        for entry in planned.step.off:
            off = off.take_off(entry.item, entry.count, entry.how, entry.where, entry.mark)
            came_off[entry.item] = candidate
        for back in planned.step.back:
            after = off.put_back(back.item, back.count, new=back.new)
            if isinstance(after, OffList):
                off = after
                continue
            message = f'step "{planned.id}": {_why(after)}{with_options}'
            path = _path(options, planned.id)
            finding = Finding(
                "error", "back-without-off", planned.file, planned.line, message, path
            )
            yield (planned.id, back.item), finding
            if after.off:  # those that were off are back: they are not missed at the end too
                partly = off.put_back(back.item, after.off, new=True)
                off = partly if isinstance(partly, OffList) else off
    for left in off.open_items():
        planned = came_off[left.item].planned
        message = (
            f'"{left.item}" × {left.count} came off in step "{planned.id}" and is still off '
            f"at the end{with_options}; name it under back where it goes on"
        )
        path = _path(options, planned.id)
        finding = Finding("error", "still-off", planned.file, planned.line, message, path)
        yield ("end", left.item), finding


def _why(refused: Refused) -> str:
    if refused.reason == "never-off":
        return f'"{refused.item}" goes back on, but it is not off here'
    return f'{refused.asked} × "{refused.item}" go back on, but only {refused.off} came off'
