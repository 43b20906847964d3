"""The tray in words, the same for paper, screen and voice."""

from __future__ import annotations

from collections.abc import Iterator

from assistant.checklist.plan import Plan
from assistant.checklist.tray import Needed, Setting, Tool, Tray
from assistant.job.effects import Line, line


def tray_lines(plan: Plan, tray: Tray, *, wrench_needed: bool = False) -> Iterator[Line]:
    """One line for each thing, in the order in which a trip fetches them.

    Args:
        plan: of the job.
        tray: what it needs.
        wrench_needed: the shop has wrenches, so a torque without one is told.
    """
    yield line("tray.title", title=plan.title)
    if tray.drivers:
        yield line("tray.drivers")
        yield from (tool_line(tool) for tool in tray.drivers)
    if tray.torques:
        yield line("tray.torques")
        for setting in tray.torques:
            yield from torque_lines(setting, wrench_needed=wrench_needed)
    if tray.parts:
        yield line("tray.parts")
        for part in tray.parts:
            yield from part_lines(part)
    if tray.consumables:
        yield line("tray.consumables")
        yield from (item_line(one.name) for one in tray.consumables)
    if tray.fluids:
        yield line("tray.fluids")
        yield from (item_line(one.name) for one in tray.fluids)


def item_line(name: str) -> Line:
    """A thing that needs no more than its name."""
    return line("tray.item", name=name)


def tool_line(tool: Tool) -> Line:
    """A kind of driver with its sizes."""
    if not tool.sizes:
        return item_line(tool.name)
    return line("tray.tool", name=tool.name, sizes=", ".join(tool.sizes))


def torque_lines(setting: Setting, *, wrench_needed: bool) -> tuple[Line, ...]:
    """A torque with its wrench; where the shop has wrenches and none fits, that is told."""
    missing = wrench_needed and setting.wrench is None
    none = (line("wrench.none_fits"),) if missing else ()
    return (setting_line(setting), *none)


def setting_line(setting: Setting) -> Line:
    """A torque with its wrench, as far as one is named."""
    if setting.wrench is None:
        return line("tray.torque", value=setting.value)
    if setting.adapter is None:
        return line("tray.wrench", value=setting.value, wrench=setting.wrench,
                    setting=setting.set_to)  # fmt: skip
    return line("tray.adapter", value=setting.value, wrench=setting.wrench,
                adapter=setting.adapter, setting=setting.set_to)  # fmt: skip


def part_lines(part: Needed) -> Iterator[Line]:
    """A part with its count and number."""
    if part.number is None:
        yield line("tray.part", name=part.name, count=part.count)
    else:
        yield line("tray.numbered", name=part.name, count=part.count, number=part.number)
    if part.single_use:
        yield line("tray.new_only")
