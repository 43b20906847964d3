"""A loaded checklist and a vehicle's options to the plan of one job."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from pydantic import BaseModel

from assistant.checklist.crosscheck import EACH, each_id
from assistant.checklist.explain import did_you_mean
from assistant.checklist.loader import Loaded, LoadedSection
from assistant.checklist.model import Option, OptionValue, Step
from assistant.checklist.plan import Plan, PlannedStep
from assistant.checklist.scalars import shown
from assistant.checklist.single_use import single_use_items
from assistant.errors import BadInput

_Any = TypeVar("_Any")


@dataclass(frozen=True, slots=True)
class Candidate:
    """A step with its repetition worked out, and the options under which it applies.

    Attributes:
        planned: as it will stand in a plan, except for its number, which is 0, and for
            `reopens`, which still names steps as they were written.
        when: (option, value) pairs of section and step that must all hold.
        each: the repeat it belongs to, or "".
    """

    planned: PlannedStep
    when: tuple[tuple[str, OptionValue], ...]
    each: str

    def applies(self, options: Mapping[str, OptionValue]) -> bool:
        """Whether the step is done on a vehicle with these options."""
        return holds(self.when, options)


def holds(when: tuple[tuple[str, OptionValue], ...], options: Mapping[str, OptionValue]) -> bool:
    """Whether all the options asked for have the values asked for."""
    return all(options[name] == value for name, value in when)


def candidates(loaded: Loaded) -> tuple[Candidate, ...]:
    """Every step of every choice of options, in order, repeats worked out."""
    return tuple(
        candidate
        for part in loaded.sections
        for side in part.section.each or ("",)
        for index, step in enumerate(part.section.steps)
        for candidate in _repeats(part, side, index, step)
    )


def expand(loaded: Loaded, options: Mapping[str, OptionValue]) -> Plan:
    """The plan of a job on a vehicle with these options; an option not named has its default.

    Raises:
        BadInput: an option or a value that the checklist doesn't have, or no step applies.
    """
    chosen = choose(loaded, options)
    applying = [c for c in candidates(loaded) if c.applies(chosen)]
    if not applying:
        raise BadInput(f"{loaded.file}: no step applies with {options_text(chosen)}")
    checklist = loaded.checklist
    return Plan(
        checklist=checklist.checklist,
        title=checklist.title,
        version=checklist.version,
        language=checklist.language,
        machines=checklist.machines,
        source=checklist.source,
        standing=checklist.standing,
        sha256=loaded.sha256,
        options=chosen,
        steps=tuple(
            _numbered(candidate, number, applying)
            for number, candidate in enumerate(applying, start=1)
        ),
        interlocks=checklist.interlocks,
        single_use=single_use_items((c.planned.step for c in applying), checklist.language),
    )


def choose(loaded: Loaded, options: Mapping[str, OptionValue]) -> dict[str, OptionValue]:
    """Every option of the checklist with its value for this vehicle.

    Raises:
        BadInput: an option or value that doesn't exist; the message says which do.
    """
    known = loaded.checklist.options
    for name, value in options.items():
        if name not in known:
            said = f'{loaded.file}: there is no option "{shown(name)}"'
            raise BadInput(f"{said}; {did_you_mean(name, known)}")
        allowed = _values(known[name])
        if not any(value is one or (value == one and isinstance(one, str)) for one in allowed):
            said = f'{loaded.file}: option {name} can\'t be "{shown(option_text(value))}"'
            raise BadInput(f"{said}; one of: {', '.join(map(option_text, allowed))}")
    return {name: options.get(name, option.default) for name, option in known.items()}


def read_option(loaded: Loaded, text: str) -> tuple[str, OptionValue]:
    """An option as it is typed on the command line: "abs=yes", "grips=heated".

    Raises:
        BadInput: it is not NAME=VALUE, or the checklist has no such option or value.
    """
    name, sign, value = text.partition("=")
    if not sign:
        names = ", ".join(loaded.checklist.options) or "none"
        raise BadInput(f'write an option as NAME=VALUE, not "{shown(text)}"; options: {names}')
    option = loaded.checklist.options.get(name)
    typed: OptionValue = value
    if option is not None and not option.values:
        typed = {"yes": True, "true": True, "no": False, "false": False}.get(value.lower(), value)
    choose(loaded, {name: typed})
    return name, typed


def option_text(value: OptionValue) -> str:
    """An option's value as people write it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value


def options_text(options: Mapping[str, OptionValue]) -> str:
    """A choice of options on one line: "abs=yes, grips=plain"."""
    shown_ones = ", ".join(f"{name}={option_text(value)}" for name, value in options.items())
    return shown_ones or "no options"


def option_sets(loaded: Loaded, bound: int) -> Iterator[dict[str, OptionValue]]:
    """Every choice of options that can make a difference, the defaults first.

    Options that no step or section asks for keep their default.

    Raises:
        BadInput: there are more choices than the bound.
    """
    asked = {name for part in loaded.sections for name in part.section.when}
    asked.update(name for _, _, step in loaded.steps() for name in step.when)
    choices = {
        name: default_first(option) if name in asked else (option.default,)
        for name, option in loaded.checklist.options.items()
    }
    total = math.prod(len(values) for values in choices.values())
    if total > bound:
        raise BadInput(
            f"{loaded.file}: its options can be chosen in {total} ways, more than the {bound} "
            "that can be proved; split the checklist"
        )
    for values in itertools.product(*choices.values()):
        yield dict(zip(choices, values, strict=True))


def _values(option: Option) -> tuple[OptionValue, ...]:
    return option.values or (True, False)


def default_first(option: Option) -> tuple[OptionValue, ...]:
    """Every value of an option, the default first."""
    return (option.default, *(value for value in _values(option) if value != option.default))


def _repeats(part: LoadedSection, side: str, index: int, step: Step) -> Iterator[Candidate]:
    section = part.section
    suffix = f".{each_id(side)}" if side else ""
    when = (*section.when.items(), *step.when.items())
    for each in step.each or (side,):
        filled = _filled(step, each).model_copy(update={"each": (), "when": {}})
        planned = PlannedStep(
            id=f"{step.step}.{each_id(each)}" if each else step.step,
            number=0,
            section=section.section + suffix,
            section_title=_title(section.title, side),
            step=filled,
            file=part.file,
            line=part.line(index),
        )
        yield Candidate(planned, when, each)


def _title(title: str, side: str) -> str:
    if EACH in title or not side:
        return title.replace(EACH, side)
    return f"{title}, {side}"


def _filled(value: _Any, each: str) -> _Any:
    """The value with {each} replaced in all its texts; names of steps hold none."""
    if isinstance(value, str):
        return value.replace(EACH, each) if EACH in value else value  # type: ignore[return-value] # a str for a str; an enum holds no {each}
    if isinstance(value, tuple):
        return tuple(_filled(item, each) for item in value)  # type: ignore[return-value] # a tuple for a tuple
    if isinstance(value, BaseModel):
        return value.model_copy(
            update={name: _filled(getattr(value, name), each) for name in type(value).model_fields}
        )
    return value


def _numbered(candidate: Candidate, number: int, applying: list[Candidate]) -> PlannedStep:
    planned = candidate.planned
    reopens = tuple(
        id_ for name in planned.step.reopens for id_ in _reopened(name, candidate.each, applying)
    )
    step = planned.step.model_copy(update={"reopens": reopens})
    return replace(planned, number=number, step=step)


def _reopened(name: str, each: str, applying: list[Candidate]) -> list[str]:
    """The steps of a plan that a name in `reopens` means: the left side reopens the left one."""
    named = [other for other in applying if other.planned.step.step == name]
    same_side = [other for other in named if other.each == each]
    return [other.planned.id for other in same_side or named]
