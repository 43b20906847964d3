"""The kit check before the first step: what is asked, in the order of the tray."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from assistant.checklist.tray import Needed, Tool, lay_out, wrench_setting
from assistant.checklist.tray import Setting as Torqued
from assistant.job.effects import Line, line
from assistant.job.state import JobState, Setting
from assistant.job.tray_lines import item_line, part_lines, tool_line, torque_lines
from assistant.job.wrench import fitting

TOOL = "missing-tool"
PART = "missing-part"


@dataclass(frozen=True, slots=True)
class Thing:
    """Something that must lie ready.

    Attributes:
        kind: the trouble that it is when it is missing.
        name: what that trouble calls it.
        lines: it in words.
    """

    kind: str
    name: str
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Group:
    """Things that lie together.

    Attributes:
        lines: the group in words, as it is asked about in one.
        each: never asked about in one.
    """

    title: Line
    lines: tuple[Line, ...]
    things: tuple[Thing, ...]
    each: bool = False

    @property
    def apart(self) -> bool:
        """Whether its things are asked about one by one from the beginning."""
        return self.each or len(self.things) == 1


@dataclass(frozen=True, slots=True)
class Question:
    """What the kit check asks now.

    Attributes:
        things: one, or a whole group's.
        number: place of the first of them among all things, 1-based.
    """

    lines: tuple[Line, ...]
    things: tuple[Thing, ...]
    number: int


def kit_groups(setting: Setting, state: JobState) -> tuple[Group, ...]:
    """Everything that the job needs: tools, torque wrenches, parts, what is used up, fluids."""
    tray = lay_out(setting.plan)
    settings = with_shop_wrenches(setting, state, tray.torques)
    parts = tuple(Thing(PART, part.name, tuple(part_lines(part))) for part in tray.parts)
    groups = (
        _tools(tray.drivers),
        _wrenches(setting, settings),
        Group(line("tray.parts"), (), parts, each=True),
        _named("tray.consumables", tray.consumables),
        _named("tray.fluids", tray.fluids),
    )
    return tuple(group for group in groups if group.things)


def question(groups: Iterable[Group], answers: Sequence[bool]) -> Question | None:
    """What is asked after these answers; None when everything was.

    A group is asked about in one. Where not all of it is there, and for parts always, its things
    are asked about one after the other.
    """
    given = iter(answers)
    number = 1
    for group in groups:
        lead: tuple[Line, ...] = (group.title,)
        if not group.apart:
            whole = next(given, None)
            if whole is None:
                lines = (*lead, *group.lines, line("kit.ask_all"))
                return Question(lines, group.things, number)
            if whole:
                number += len(group.things)
                continue
            lead = (line("kit.apart"),)
        for thing in group.things:
            if next(given, None) is None:
                return Question((*lead, *thing.lines, line("kit.ask")), (thing,), number)
            lead = ()
            number += 1
    return None


def how_many(groups: Iterable[Group]) -> int:
    """Things in all."""
    return sum(len(group.things) for group in groups)


def _tools(tools: Sequence[Tool]) -> Group:
    things = tuple(Thing(TOOL, name, (item_line(name),)) for tool in tools for name in _each(tool))
    return Group(line("tray.drivers"), tuple(map(tool_line, tools)), things)


def _each(tool: Tool) -> Iterator[str]:
    """Every size of a tool by its own name: 10 mm socket."""
    if not tool.sizes:
        yield tool.name
    yield from (f"{size} {tool.name}" for size in tool.sizes)


def with_shop_wrenches(
    setting: Setting, state: JobState, torques: Iterable[Torqued]
) -> tuple[Torqued, ...]:
    """The torques with the wrench that the job will name: the shop's own, if it has any.

    What comes to be the same setting of the same wrench is one.
    """
    found: dict[Torqued, dict[str, None]] = {}
    for one in torques:
        set_up = _with_shop_wrench(setting, state, one)
        found.setdefault(replace(set_up, steps=()), {}).update(dict.fromkeys(one.steps))
    return tuple(replace(one, steps=tuple(steps)) for one, steps in found.items())


def _with_shop_wrench(setting: Setting, state: JobState, one: Torqued) -> Torqued:
    if not setting.wrenches:
        return one
    step = next(planned.step for planned in setting.plan.steps if planned.id in one.steps)
    found = fitting(setting, state, step.torque) if step.torque is not None else None
    if found is None:
        return replace(one, wrench=None, set_to=None)
    return replace(one, wrench=found.name, set_to=wrench_setting(found.torque, one.value))


def _wrenches(setting: Setting, settings: Sequence[Torqued]) -> Group:
    """Each torque in words; asked about one by one, each wrench with all its settings."""
    said: dict[str, tuple[Line, ...]] = {}
    whole: list[Line] = []
    for one in settings:
        name = one.wrench or str(one.value)
        lines = torque_lines(one, wrench_needed=bool(setting.wrenches))
        said[name] = said.get(name, ()) + lines
        whole.extend(lines)
    things = tuple(Thing(TOOL, name, lines) for name, lines in said.items())
    return Group(line("tray.torques"), tuple(whole), things)


def _named(title: str, needed: Iterable[Needed]) -> Group:
    things = tuple(Thing(PART, one.name, (item_line(one.name),)) for one in needed)
    return Group(line(title), tuple(said for thing in things for said in thing.lines), things)
