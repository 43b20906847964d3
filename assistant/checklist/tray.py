"""The tray: everything that the chosen options need, grouped so that one trip fetches it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from assistant.checklist.fastening import Torque
from assistant.checklist.model import Part
from assistant.checklist.plan import Plan, PlannedStep
from assistant.checklist.tools import named_tools
from assistant.trade import adapter
from assistant.trade.quantity import Quantity
from assistant.trade.units import rounded

_SIZED: Final = re.compile(
    r"^(?P<size>\d+(?: \d+/\d+|/\d+|\.\d+)?\s?(?:mm|in)|T\d{1,3})\b\s*(?P<name>.*)"
)


@dataclass(frozen=True, slots=True)
class Tool:
    """A kind of driver or tool with every size that is needed.

    Attributes:
        sizes: as written, smallest number of steps aside, in order of first use; empty for a
            tool without sizes.
        steps: ids of the steps that use it.
    """

    name: str
    sizes: tuple[str, ...]
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Setting:
    """One torque with the wrench it is meant for.

    Attributes:
        value: at the fastener.
        set_to: what the wrench shows, in its own unit and to one tenth; None without a wrench.
        wrench, adapter: their names, None where the checklist names none.
        steps: ids of the steps that need it.
    """

    value: Quantity
    set_to: Quantity | None
    wrench: str | None
    adapter: str | None
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Needed:
    """A part or something that is used up.

    Attributes:
        count: how many in all; 1 for what isn't counted.
    """

    name: str
    count: int
    steps: tuple[str, ...]
    number: str | None = None
    single_use: bool = False


@dataclass(frozen=True, slots=True)
class Tray:
    """What must lie ready before the gloves go on."""

    drivers: tuple[Tool, ...]
    torques: tuple[Setting, ...]
    parts: tuple[Needed, ...]
    consumables: tuple[Needed, ...]
    fluids: tuple[Needed, ...]


def lay_out(plan: Plan) -> Tray:
    """Everything the steps of this plan name, each thing once."""
    return Tray(
        drivers=_tools(plan.steps, plan.language),
        torques=_settings(plan.steps),
        parts=_parts(plan.steps),
        consumables=_needed((p.id, Part(name=c)) for p in plan.steps for c in p.step.consumables),
        fluids=_needed(
            (p.id, Part(name=f"{p.step.fluid.grade}, {p.step.fluid.into}"))
            for p in plan.steps
            if p.step.fluid is not None
        ),
    )


def _tools(steps: Iterable[PlannedStep], language: str) -> tuple[Tool, ...]:
    sizes: dict[str, dict[str, None]] = {}
    used: dict[str, dict[str, None]] = {}
    for planned in steps:
        for text in _tool_texts(planned, language):
            found = _SIZED.match(text)
            # A hexalobular driver is its size: T27.
            name = (found["name"].strip() or "hexalobular bit") if found is not None else text
            sizes.setdefault(name, {})
            if found is not None:
                sizes[name][found["size"]] = None
            used.setdefault(name, {})[planned.id] = None
    return tuple(Tool(name, tuple(sizes[name]), tuple(used[name])) for name in sizes)


def _tool_texts(planned: PlannedStep, language: str) -> Iterator[str]:
    step = planned.step
    if step.driver is not None:
        yield from named_tools(step.driver, language)
    elif step.fastener is not None and step.fastener.drive is not None:
        yield from named_tools(step.fastener.drive, language)
    if step.torque is not None and step.torque.adapter is not None:
        yield step.torque.adapter.name


def _settings(steps: Iterable[PlannedStep]) -> tuple[Setting, ...]:
    used: dict[tuple[Quantity, Quantity | None, str | None, str | None], dict[str, None]] = {}
    for planned in steps:
        torque = planned.step.torque
        if torque is None:
            continue
        wrench = torque.wrench.name if torque.wrench is not None else None
        extra = torque.adapter.name if torque.adapter is not None else None
        for value in (*torque.stages, torque.value):
            key = (value, wrench_setting(torque, value), wrench, extra)
            used.setdefault(key, {})[planned.id] = None
    return tuple(Setting(*key, steps=tuple(ids)) for key, ids in used.items())


def wrench_setting(torque: Torque, value: Quantity) -> Quantity | None:
    """What the named wrench is set to for this torque, in its own unit, to one tenth.

    The correction for an adapter is that of `trade.adapter`.

    Returns:
        None when the checklist names no wrench.
    """
    if torque.wrench is None:
        return None
    shown = value.to(torque.wrench.most.unit)
    extra = torque.adapter
    if extra is not None and torque.wrench.lever is not None:
        angle = extra.angle or adapter.STRAIGHT
        shown = adapter.setting(shown, torque.wrench.lever, extra.offset, angle)
    return rounded(shown, 1)


def _parts(steps: Sequence[PlannedStep]) -> tuple[Needed, ...]:
    """Parts with their counts.

    A part is counted where something goes on. One that is only held up or compared in a step is
    counted there when no step fits it.
    """
    fitted = {part.name for p in steps if p.step.back for part in p.step.parts}
    counted = _needed(
        (p.id, part)
        for p in steps
        for part in p.step.parts
        if p.step.back or part.name not in fitted
    )
    return tuple(
        replace(one, steps=tuple(p.id for p in steps if one.name in {x.name for x in p.step.parts}))
        for one in counted
    )


def _needed(named: Iterable[tuple[str, Part]]) -> tuple[Needed, ...]:
    counts: dict[tuple[str, str | None, bool], int] = {}
    used: dict[tuple[str, str | None, bool], dict[str, None]] = {}
    for step, part in named:
        key = (part.name, part.number, part.single_use)
        counts[key] = counts.get(key, 0) + part.count
        used.setdefault(key, {})[step] = None
    return tuple(Needed(key[0], counts[key], tuple(used[key]), key[1], key[2]) for key in counts)
