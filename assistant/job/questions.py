"""Questions: answered from the state, never changing it."""

from __future__ import annotations

from fractions import Fraction

from assistant.job.effects import Line, Say, line
from assistant.job.events import Heard
from assistant.job.flow import Outcome, remark
from assistant.job.kit import how_many, kit_groups, question
from assistant.job.pace import minutes_left
from assistant.job.present import caution_lines, driver_lines, off_lines, part_lines, torque_lines
from assistant.job.state import JobState, KitCheck, Setting
from assistant.job.wrench import wrench_lines
from assistant.trade.quantity import Quantity, unit_named


def say_again(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """The last lines once more."""
    return state, (Say(state.last, fixed=state.last_fixed),)


def say_again_slowly(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """The last lines once more, slowly."""
    return state, (Say(state.last, slowly=True, fixed=state.last_fixed),)


def what_size(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Driver and fastener of the open step."""
    return _about_step(setting, state, driver_lines, "answer.no_size")


def what_torque(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Torque of the open step."""
    return _about_step(setting, state, torque_lines, "answer.no_torque")


def what_setting(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """What the torque wrench is set to, in its own unit and with the adapter in use."""
    planned = state.step(setting)
    torque = planned.step.torque if planned is not None else None
    if torque is None:
        return remark(state, line("answer.no_torque"))
    lines = wrench_lines(setting, state, torque)
    return remark(state, *(lines or (line("answer.no_wrench"),)))


def what_caution(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Cautions of the open step."""
    return _about_step(setting, state, caution_lines, "answer.no_caution")


def what_parts(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Parts and consumables of the open step."""
    return _about_step(setting, state, part_lines, "answer.no_parts")


def _about_step(setting: Setting, state: JobState, lines_of: object, none: str) -> Outcome:
    planned = state.step(setting)
    lines: tuple[Line, ...] = ()
    if planned is not None and callable(lines_of):
        lines = lines_of(planned.step)
    return remark(state, *(lines or (line(none),)))


def why(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """The reason for the open step."""
    planned = state.step(setting)
    if planned is None or planned.step.why is None:
        return remark(state, line("answer.no_why"))
    return remark(state, line("text", text=planned.step.why))


def what_next(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """The step after the open one."""
    steps = setting.plan.steps
    after = state.progress.at if state.progress.queue else state.progress.at + 1
    if after >= len(steps):
        return remark(state, line("answer.next_is_release"))
    return remark(state, line("answer.next", text=steps[after].step.do))


def where_are_we(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Section, step and how many are left."""
    if state.kit is not None and not state.kit.over:
        return remark(state, _where_in_kit(setting, state, state.kit))
    planned = state.step(setting)
    if planned is None:
        return remark(state, line("answer.at_release"))
    total = len(setting.plan.steps)
    return remark(
        state,
        line(
            "answer.where",
            title=planned.section_title,
            number=planned.number,
            total=total,
            left=total - state.progress.at,
        ),
    )


def _where_in_kit(setting: Setting, state: JobState, kit: KitCheck) -> Line:
    groups = kit_groups(setting, state)
    asked = question(groups, kit.answers)
    total = how_many(groups)
    return line("answer.kit", number=asked.number if asked is not None else total, total=total)


def what_is_off(_setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """The off-list."""
    lines = off_lines(state.progress.off)
    return remark(state, *(lines or (line("answer.nothing_off"),)))


def how_long_left(setting: Setting, state: JobState, _event: Heard) -> Outcome:
    """Expected minutes of the steps that are left, as the shop's own jobs have taught."""
    minutes = max(1, round(minutes_left(setting, state)))
    return remark(state, line("answer.minutes_left", minutes=minutes))


def convert(setting: Setting, state: JobState, event: Heard) -> Outcome:
    """The step's torque in another unit, to three significant digits."""
    planned = state.step(setting)
    unit = unit_named(event.intent.get("torque_unit") or "")
    if planned is None or planned.step.torque is None:
        return remark(state, line("answer.no_torque"))
    value = planned.step.torque.value.to(unit)
    return remark(state, line("answer.converted", value=three_digits(value)))


def three_digits(value: Quantity) -> Quantity:
    """The quantity rounded to three significant digits, halves to even."""
    if value.value == 0:
        return value
    places = 2
    size = abs(value.value)
    while size >= 10:
        size /= 10
        places -= 1
    while size < 1:
        size *= 10
        places += 1
    scale = Fraction(10) ** places
    return Quantity(Fraction(round(value.value * scale)) / scale, value.unit)
