"""How a step is told: action, driver and fastener, torque, caution, then what it asks for."""

from __future__ import annotations

from collections.abc import Iterator

from assistant.checklist.model import Fastener, Reading, Step, Torque
from assistant.checklist.offlist import OffList
from assistant.checklist.plan import PlannedStep
from assistant.job.effects import Line, line
from assistant.job.state import JobState, Setting
from assistant.job.wrench import wrench_lines


def present_step(setting: Setting, state: JobState, planned: PlannedStep) -> tuple[Line, ...]:
    """The lines that open a step."""
    step = planned.step
    lines: list[Line] = []
    if _begins_section(setting, planned):
        lines.append(line("step.section", title=planned.section_title))
    lines.append(line("text", text=step.do))
    lines.extend(_missing(state, step))
    lines.extend(driver_lines(step))
    lines.extend(torque_lines(step))
    if step.torque is not None:
        lines.extend(wrench_lines(setting, state, step.torque))
    lines.extend(new_part_lines(step))
    lines.extend(caution_lines(step))
    lines.extend(line("step.mark", item=i.item, mark=i.mark) for i in step.off if i.mark)
    lines.extend(_came_off(state, step))
    lines.extend(reading_line(setting, reading) for reading in step.readings)
    if step.hold is not None:
        lines.append(line("step.hold", time=step.hold.time, what=step.hold.what))
    if step.second_person and state.second is not None:
        lines.append(line("step.second", name=setting.name_of(state.second)))
    return tuple(lines)


def _came_off(state: JobState, step: Step) -> Iterator[Line]:
    """How and where each thing that now goes back was marked and put down."""
    going = {back.item for back in step.back}
    for gone in state.progress.off.open_items():
        if gone.item in going and gone.mark is not None:
            yield line("step.came_off", item=gone.item, mark=gone.mark)


def _missing(state: JobState, step: Step) -> Iterator[Line]:
    """What the kit check found missing, is not here yet, and is needed now."""
    tool = step.driver or (step.fastener.drive if step.fastener is not None else None)
    needed = (*(part.name for part in step.parts), *step.consumables, *([tool] if tool else []))
    for trouble in state.open_troubles():
        if trouble.item and any(name.startswith(trouble.item) for name in needed):
            yield line("step.missing", name=trouble.item)


def _begins_section(setting: Setting, planned: PlannedStep) -> bool:
    steps = setting.plan.steps
    return planned.number == 1 or steps[planned.number - 2].section != planned.section


def driver_lines(step: Step) -> tuple[Line, ...]:
    """Driver and fastener, if the step has them."""
    if step.fastener is not None:
        return (_fastener_line(step.fastener, step.driver),)
    return (line("step.driver", driver=step.driver),) if step.driver else ()


def _fastener_line(fastener: Fastener, driver: str | None) -> Line:
    described = ", ".join(
        part
        for part in (
            fastener.name,
            f"{fastener.count} of them" if fastener.count > 1 else None,
            fastener.thread,
            str(fastener.length) if fastener.length else None,
        )
        if part
    )
    tool = driver or fastener.drive
    if tool is None:
        return line("step.fastener", fastener=described)
    return line("step.driver_fastener", driver=tool, fastener=described)


def torque_lines(step: Step) -> tuple[Line, ...]:
    """Torque with its stages, pattern and trap, if the step has one."""
    return _torque(step.torque) if step.torque is not None else ()


def _torque(torque: Torque) -> tuple[Line, ...]:
    lines = []
    if torque.stages:
        stages = ", ".join(str(stage) for stage in torque.stages)
        lines.append(line("step.torque_staged", stages=stages, value=torque.value))
    else:
        lines.append(line("step.torque", value=torque.value))
    if torque.condition != "dry":
        lines.append(line(f"step.condition.{torque.condition}"))
    if torque.pattern:
        lines.append(line("text", text=_sentence(torque.pattern)))
    if torque.trap:
        lines.append(line("text", text=_sentence(torque.trap)))
    return tuple(lines)


def _sentence(text: str) -> str:
    text = text[0].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else text + "."


def new_part_lines(step: Step) -> tuple[Line, ...]:
    """The single-use parts of the step: only new ones go on."""
    single = (part for part in step.parts if part.single_use)
    return tuple(_counted("step.new_part", part.count, part.name) for part in single)


def off_lines(off: OffList) -> tuple[Line, ...]:
    """What is off, one line each."""
    return tuple(_counted("off.item", item.count, item.item) for item in off.open_items())


def _counted(key: str, count: int, name: str) -> Line:
    """A line about one of something, or about several of it under the key with `_many`."""
    return line(f"{key}_many", count=count, name=name) if count > 1 else line(key, name=name)


def caution_lines(step: Step) -> tuple[Line, ...]:
    """The cautions, most severe first."""
    order = ("DANGER", "WARNING", "CAUTION", "NOTICE")
    ranked = sorted(step.cautions, key=lambda caution: order.index(caution.signal.value))
    return tuple(line("step.caution", signal=c.signal.value, text=c.text) for c in ranked)


def part_lines(step: Step) -> tuple[Line, ...]:
    """Parts and consumables, for "what parts"."""
    parts = tuple(_counted("answer.part", p.count, p.name) for p in step.parts)
    return parts + tuple(line("answer.consumable", name=name) for name in step.consumables)


def reading_line(setting: Setting, reading: Reading) -> Line:
    """What is to be measured, in which unit and condition."""
    unit = setting.name("unit", reading.unit)
    if reading.condition:
        return line(
            "step.reading_condition", name=reading.name, unit=unit, condition=reading.condition
        )
    return line("step.reading", name=reading.name, unit=unit)
