"""The tags of a checklist read by a table of its own, on paths without any trouble.

A third opinion beside the proof and the dialogue, written from the table of hazard states alone:
it shares no code with either, only the plan.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Final

from assistant.checklist.expand import expand, option_sets, options_text
from assistant.checklist.loader import Loaded
from assistant.checklist.model import Interlock
from assistant.checklist.plan import PlannedStep

_BATTERY: Final = {
    ("disconnect", "on"): "off", ("disconnect", "off"): "off", ("disconnect", "back"): "off",
    ("needs-isolated", "off"): "off",
    ("reconnect", "off"): "back",
    ("prove", "back"): "on",
}  # fmt: skip
_FLUID: Final = {
    ("open", "shut"): "open", ("open", "open"): "open", ("open", "closed"): "open",
    ("open", "checked"): "open",
    ("work", "open"): "open",
    ("close", "open"): "closed", ("close", "closed"): "closed", ("close", "checked"): "closed",
    ("prove", "closed"): "checked", ("prove", "checked"): "checked",
}  # fmt: skip
_FORBIDDEN_BY: Final = {"ignition-on": "fuel", "engine-start": "fuel", "machine-moved": "brake"}


def tag_faults(loaded: Loaded, most: int = 64) -> Iterator[str]:
    """What the tags, the off-list and the interlocks break, for each choice of options."""
    for options in option_sets(loaded, most):
        plan = expand(loaded, options)
        for fault in _faults(plan.steps, plan.interlocks, plan.single_use):
            yield f"{options_text(options)}: {fault}"


@dataclass
class _Machine:
    battery: str = "on"
    fluids: dict[str, str] = field(default_factory=lambda: {"fuel": "shut", "brake": "shut"})
    off: dict[str, int] = field(default_factory=dict)


def _faults(
    steps: tuple[PlannedStep, ...],
    interlocks: tuple[Interlock, ...],
    single_use: frozenset[str],
) -> Iterator[str]:
    now = _Machine()
    for number, planned in enumerate(steps):
        tags = {n: t.value for n, t in planned.step.hazards if t is not None}
        passed_over = (earlier for earlier in steps[:number] if earlier.step.optional)
        for fault in (
            *_left_out(planned, tags),
            *_hazards(now, tags),
            *_blocked(now, planned, (*passed_over, *steps[number:]), interlocks),
            *_moved(now, planned, single_use),
        ):
            yield f"{planned.id}: {fault}"
    left = [item for item, count in now.off.items() if count > 0]
    if now.battery != "on" or {"open", "closed"} & {*now.fluids.values()} or left:
        yield f"release: battery {now.battery}, {now.fluids}, off {left}"


def _left_out(planned: PlannedStep, tags: dict[str, str]) -> Iterator[str]:
    step = planned.step
    if step.optional and (tags.keys() - {"event"} or step.off or step.back):
        yield "may be left out"


def _hazards(now: _Machine, tags: dict[str, str]) -> Iterator[str]:
    for name, state in now.fluids.items():  # its stop comes before anything that isn't closing
        if state == "checked" and tags.get(name) not in ("close", "prove"):
            now.fluids[name] = "shut"
        if state == "closed" and tags.get(name) not in ("close", "prove", "open"):
            yield f"{name} closed and not checked"
    yield from _event(now, tags)
    if tags.get("fuel") in ("open", "work") and now.battery != "off":
        yield f"fuel with the battery {now.battery}"
    if tags.get("battery") == "reconnect" and now.fluids["fuel"] in ("open", "closed"):
        yield "battery on with fuel open"
    if "battery" in tags:
        known = (tags["battery"], now.battery) in _BATTERY
        yield from () if known else (f"{tags['battery']} with the battery {now.battery}",)
        now.battery = _BATTERY.get((tags["battery"], now.battery), now.battery)
    for name, state in now.fluids.items():
        if name in tags:
            known = (tags[name], state) in _FLUID
            yield from () if known else (f"{name} {tags[name]} while {state}",)
            now.fluids[name] = _FLUID.get((tags[name], state), state)


def _event(now: _Machine, tags: dict[str, str]) -> Iterator[str]:
    name = _FORBIDDEN_BY.get(tags.get("event", ""))
    if name is not None and (now.fluids[name] != "shut" or tags.get(name) == "open"):
        yield f"{tags['event']} with {name} not shut"


def _blocked(
    now: _Machine,
    planned: PlannedStep,
    undone: tuple[PlannedStep, ...],
    interlocks: tuple[Interlock, ...],
) -> Iterator[str]:
    names = {planned.id, planned.step.step}
    waiting = {name for other in undone for name in (other.id, other.step.step)}
    for rule in interlocks:
        off = any(now.off.get(item, 0) > 0 for item in rule.while_off)
        if names & {*rule.blocks} and (off or waiting & {*rule.while_not_done}):
            yield f"blocked by {rule.interlock}"


def _moved(now: _Machine, planned: PlannedStep, single_use: frozenset[str]) -> Iterator[str]:
    for gone in planned.step.off:
        now.off[gone.item] = now.off.get(gone.item, 0) + gone.count
    for back in planned.step.back:
        now.off[back.item] = now.off.get(back.item, 0) - back.count
        if now.off[back.item] < 0:
            yield f"{back.item} back without being off"
        if back.item in single_use and not back.new:
            yield f"{back.item} used again"
