"""Readings and timed holds."""

from __future__ import annotations

import pytest

from assistant.checklist.model import Reading
from assistant.job.measure import is_within, judged, limits_text, margin_text
from assistant.job.state import Mode
from assistant.trade.quantity import Quantity
from tests.job.bench import Bench, at_step, setting


def say_volts(bench: Bench, number: str) -> tuple[str, ...]:
    """A voltage is spoken."""
    return bench.hear("reading", number=number, unit="V")


def test_a_reading_is_read_back_before_it_counts() -> None:
    """The value is said back; only the affirmed value is logged, with its limits and state."""
    bench = at_step("resting-voltage")
    assert say_volts(bench, "12.8") == ("reading.check_condition",)
    assert bench.value("reading.check_condition", "digits") == "12.8"
    assert bench.value("reading.check_condition", "unit") == "volts"
    assert bench.value("reading.check_condition", "condition") == "key off"
    assert not bench.state.progress.readings
    assert bench.hear("affirm") == ("reading.good_by", "reading.then")
    assert bench.value("reading.good_by", "by") == "0.4 V"
    (taken,) = bench.state.progress.readings
    assert (taken.value, taken.within) == (Quantity.parse("12.8 V"), True)
    assert (taken.condition, taken.limits) == ("key off", "12.4 V to 13.2 V")


@pytest.mark.parametrize("answer", ["negative", "correction"])
def test_a_misheard_reading_is_forgotten(answer: str) -> None:
    """A value that wasn't meant leaves no trace and is asked for again."""
    bench = at_step("resting-voltage")
    say_volts(bench, "12.8")
    assert bench.hear(answer) == ("reading.forgotten", "step.reading_condition")
    assert not bench.state.progress.readings
    assert bench.state.mode is Mode.STEP


def test_the_wrong_quantity_is_refused() -> None:
    """Millimeters are no answer to a question for volts."""
    bench = at_step("resting-voltage")
    said = bench.hear("reading", number="12.8", unit="mm")
    assert said == ("reading.wrong_quantity", "step.reading_condition")
    assert bench.state.mode is Mode.STEP


def test_a_step_without_its_reading_is_not_confirmed() -> None:
    """The reading is asked for instead."""
    bench = at_step("resting-voltage")
    bench.wait(60)
    assert bench.hear("step_done") == ("step.reading_condition",)
    assert bench.step() == "resting-voltage"


def test_out_of_limits_needs_a_decision() -> None:
    """Out of limits, the step waits for a good value or an open trouble."""
    bench = at_step("resting-voltage")
    say_volts(bench, "11.9")
    assert bench.hear("affirm") == ("reading.out",)
    assert bench.value("reading.out", "by") == "0.5 V"
    bench.wait(60)
    assert bench.hear("step_done") == ("reading.out_needs_decision",)
    bench.hear("report_trouble")
    bench.hear("trouble_kind", trouble="other")
    bench.dictate()
    assert bench.hear("step_done")[0] == "step.confirmed"
    assert bench.state.progress.readings[-1].within is False


def test_a_trouble_put_right_asks_for_the_value_again() -> None:
    """Once the trouble is cleared, a bad value needs a good one after it."""
    bench = at_step("resting-voltage")
    say_volts(bench, "11.9")
    bench.hear("affirm")
    bench.hear("report_trouble")
    bench.hear("trouble_kind", trouble="other")
    bench.dictate()
    bench.hear("trouble_cleared")
    bench.wait(60)
    assert bench.hear("step_done") == ("reading.out_needs_decision",)
    say_volts(bench, "12.5")
    bench.hear("affirm")
    assert bench.hear("step_done")[0] == "step.confirmed"


def test_measuring_once_more_is_enough() -> None:
    """A second value inside the limits counts; both stay in the record."""
    bench = at_step("resting-voltage")
    for value in ("11.9", "12.4"):
        say_volts(bench, value)
        bench.hear("affirm")
    bench.wait(60)
    assert bench.hear("step_done")[0] == "step.confirmed"
    assert [r.within for r in bench.state.progress.readings] == [False, True]


@pytest.mark.parametrize(
    ("value", "within"),
    [("3.96 mm", False), ("3.97 mm", True), ("5/32 in", True), ("0.156 in", False)],
)
def test_limits_are_compared_exactly_across_units(value: str, within: bool) -> None:
    """5/32 in is 3.96875 mm (one inch is 25.4 mm exactly, NIST SP 811 B.8)."""
    pads = at_step("pad-wear").setting.plan.steps[10].step.readings[0]
    assert is_within(pads, Quantity.parse(value)) is within


def test_limits_are_shown() -> None:
    """Both limits, one of them, or none."""
    steps = setting().plan.steps
    volts, pads = steps[9].step.readings[0], steps[10].step.readings[0]
    assert limits_text(volts) == "12.4 V to 13.2 V"
    assert limits_text(pads) == "≥ 5/32 in"
    assert limits_text(volts.model_copy(update={"at_least": None})) == "≤ 13.2 V"
    assert limits_text(pads.model_copy(update={"at_least": None})) == ""


def test_a_hold_takes_its_time_and_an_answer() -> None:
    """Only the time and then "affirm" make a hold count; nothing shortens it."""
    bench = at_step("lever-hold")
    bench.wait(60)
    assert bench.hear("step_done") == ("hold.needed",)
    assert bench.hear("start_hold") == ("hold.running",)
    assert bench.hear("affirm") == ("refused.not_now",)
    assert bench.hear("step_done") == ("refused.not_now",)
    assert bench.tick(29.9) == ()
    assert bench.state.mode is Mode.HOLDING
    assert bench.tick(0.1) == ("hold.over",)
    assert bench.state.progress.held is False
    assert bench.hear("affirm") == ("hold.held", "reading.then")
    assert bench.state.progress.held is True
    assert bench.hear("step_done")[0] == "step.confirmed"
    assert bench.state.progress.held is False


@pytest.mark.parametrize("when", ["during", "after"])
def test_a_hold_that_gave_way_does_not_count(when: str) -> None:
    """Said while it runs or when it is over: the step stays open."""
    bench = at_step("lever-hold")
    bench.hear("start_hold")
    if when == "after":
        bench.tick(30)
    assert bench.hear("negative") == ("hold.failed",)
    bench.wait(60)
    assert bench.hear("step_done") == ("hold.needed",)


def test_a_second_hold_that_fails_takes_the_first_one_back() -> None:
    """The last trial counts, and no correction brings an earlier one back."""
    bench = at_step("lever-hold")
    bench.hear("start_hold")
    bench.tick(30)
    bench.hear("affirm")
    bench.hear("start_hold")
    bench.hear("negative")
    bench.wait(60)
    assert bench.hear("step_done") == ("hold.needed",)
    while bench.state.before:
        bench.hear("correction")
        assert bench.state.progress.held is False


def test_no_hold_where_none_is_asked() -> None:
    """A step without a hold says so."""
    bench = at_step("hose-on")
    assert bench.hear("start_hold") == ("hold.none",)


@pytest.mark.parametrize(
    ("low", "high", "value", "said"),
    [
        ("2 mm", "3 mm", "2.4 mm", "0.4 mm"),
        ("2 mm", "3 mm", "1/16 in", "0.41 mm"),  # 1/16 in is 1.5875 mm
        ("5/32 in", None, "3/16 in", "1/32 in"),
        (None, "100 N·m", "70 lbf·ft", "5.09 N·m"),  # 94.9072… N·m, by NIST SP 811
        (None, "3 mm", "3.0000001 mm", "0.01 mm"),  # never told as nothing
    ],
)
def test_a_margin_is_said_short(low: str | None, high: str | None, value: str, said: str) -> None:
    """Exact where that is short, in the unit of the limit."""
    wanted = Reading(
        name="gap",
        unit="mm",
        at_least=Quantity.parse(low) if low else None,
        at_most=Quantity.parse(high) if high else None,
    )
    assert margin_text(judged(wanted, Quantity.parse(value))) == said


def test_a_value_at_its_limit_is_just_within() -> None:
    """Nothing is to spare, and that is said."""
    bench = at_step("resting-voltage")
    say_volts(bench, "12.4")
    assert bench.hear("affirm") == ("reading.good_at", "reading.then")
