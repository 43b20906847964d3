"""Steps against the choices of options: what never applies, and choices that leave nothing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from assistant.checklist.expand import candidates, holds, option_sets, option_text, options_text
from assistant.checklist.loader import Loaded
from assistant.checklist.model import OptionValue
from assistant.errors import BadInput, Finding

MAX_OPTION_SETS: Final = 4_096


def option_findings(loaded: Loaded) -> Iterator[Finding]:
    """Steps that no choice of options asks for, and choices that ask for no step at all."""
    everything = candidates(loaded)
    conditions = {candidate.when for candidate in everything}
    if () not in conditions:  # a step without conditions applies always
        yield from _empty_choices(loaded, conditions)
    for candidate in everything:
        if any(dict(candidate.when)[name] != value for name, value in candidate.when):
            message = f'step "{candidate.planned.id}" applies on no choice of options; see when'
            where = candidate.planned
            yield Finding("warning", "never-applies", where.file, where.line, message)


def _empty_choices(
    loaded: Loaded, conditions: set[tuple[tuple[str, OptionValue], ...]]
) -> Iterator[Finding]:
    try:
        sets = tuple(option_sets(loaded, MAX_OPTION_SETS))
    except BadInput as error:
        message = str(error).removeprefix(f"{loaded.file}: ")
        line = loaded.node.line_of("options")
        yield Finding("error", "too-many-options", loaded.file, line, message)
        return
    for options in sets:
        if not any(holds(when, options) for when in conditions):
            yield _empty(loaded, options)


def _empty(loaded: Loaded, options: Mapping[str, OptionValue]) -> Finding:
    line = loaded.node.line_of("sections")
    message = f"no step applies with {options_text(options)}"
    path = tuple(f"{name}={option_text(value)}" for name, value in options.items())
    return Finding("error", "no-step", loaded.file, line, message, path)
