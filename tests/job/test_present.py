"""How a step is told."""

from __future__ import annotations

from assistant.job.present import caution_lines, present_step, torque_lines
from tests.job.bench import HEAD, Bench, at_step, setting


def keys(step: str) -> tuple[str, ...]:
    """What is said when a step opens."""
    bench = at_step(step)
    planned = bench.state.step(bench.setting)
    assert planned is not None
    return tuple(said.key for said in present_step(bench.setting, bench.state, planned))


def test_the_order_of_a_step() -> None:
    """Action, driver and fastener, torque, new parts: what the hands need, in that order."""
    assert keys("hose-on") == (
        "text",
        "step.driver_fastener",
        "step.torque",
        "step.new_part_many",
    )
    assert keys("negative-off") == (
        "text",
        "step.driver_fastener",
        "step.caution",
        "step.caution",
        "step.mark",
    )
    assert keys("lever-hold") == ("text", "step.hold")
    assert keys("resting-voltage") == ("text", "step.reading_condition")
    assert keys("leak-check") == ("text", "step.second")
    assert keys("look-round") == ("step.section", "text")


def test_the_gravest_caution_comes_first() -> None:
    """DANGER before WARNING before CAUTION before NOTICE: ANSI Z535.4's order of severity."""
    step = setting().plan.steps[1].step
    assert [dict(said.values)["signal"] for said in caution_lines(step)] == ["DANGER", "CAUTION"]


def test_the_fastener_is_told_as_the_trade_does() -> None:
    """Name, thread, length; the driver before it (common practice, no source)."""
    bench = at_step("hose-on")
    bench.hear("what_size")
    assert bench.value("step.driver_fastener", "driver") == "T45"
    assert bench.value("step.driver_fastener", "fastener") == "banjo bolt, 3/8-24 UNF, 22 mm"


def test_a_staged_torque_is_told_in_its_stages() -> None:
    """Stages, end value, state of the thread, order and trap."""
    text = HEAD + (
        "      - step: a\n"
        '        do: "Tighten."\n'
        "        fastener: {name: cover screw, count: 4}\n"
        '        torque: {value: "10 N·m", stages: ["3 N·m", "6 N·m"], source: notes,\n'
        "          condition: oiled, pattern: crosswise, trap: soft thread}\n"
    )
    step = setting(text).plan.steps[0].step
    lines = torque_lines(step)
    assert [said.key for said in lines] == [
        "step.torque_staged",
        "step.condition.oiled",
        "text",
        "text",
    ]
    assert dict(lines[0].values) == {"stages": "3 N·m, 6 N·m", "value": "10 N·m"}
    assert dict(lines[2].values) == {"text": "Crosswise."}
    bench = Bench(setting(text)).run_to("a")
    bench.hear("what_size")
    assert bench.value("step.fastener", "fastener") == "cover screw, 4 of them"


def test_a_step_without_a_second_person_does_not_name_one() -> None:
    """Where nobody is there to look, nobody is asked for."""
    bench = Bench(second=None).run_to("leak-check")
    assert "step.second" not in [said.key for said in bench.state.last]
