"""Torque wrenches at the lift: judged when they are taken in hand, set in their own unit."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from assistant.job.serial import wrench_from_data, wrench_to_data
from assistant.job.state import Mode, Setting, ShopWrench
from assistant.job.summary import account
from assistant.trade.quantity import Quantity
from assistant.trade.wrenches import TorqueWrench
from tests.job.bench import Bench, setting


def wrench(name: str, most: str, **more: object) -> ShopWrench:
    """A wrench of the shop."""
    return ShopWrench(TorqueWrench(name, Quantity.parse(most)), **more)  # type: ignore[arg-type]  # as named


SMALL = wrench("short wrench", "25 N·m")
INCH = wrench("inch wrench", "240 lbf·in")
LONG = wrench("long wrench", "200 N·m")
OLD = wrench("old wrench", "30 N·m", calibrated_until="2026-01-31", past_calibration=True)


def shop(*wrenches: ShopWrench) -> Setting:
    """The bench's job in a shop with these."""
    return replace(setting(), wrenches=wrenches)


def at(*wrenches: ShopWrench) -> Bench:
    """At the step with 22 N·m."""
    return Bench(shop(*wrenches)).run_to("hose-on")


def test_the_smallest_wrench_that_covers_it_is_named_with_its_setting() -> None:
    """22 N·m: the wrench to 25 N·m, not the one to 200 N·m, whose first fifth ends at 40 N·m.

    That no wrench is used in the first fifth of its scale: common practice, no source.
    """
    bench = at(LONG, SMALL)
    assert "step.wrench" in bench.said()
    assert bench.value("step.wrench", "wrench") == "short wrench"
    assert bench.value("step.wrench", "setting") == "22 N·m"


def test_the_setting_is_in_the_wrench_own_unit() -> None:
    """22 N·m is 194.7 lbf·in (1 lbf·in = 0.112 984 829 N·m, NIST SP 811 B.9)."""
    bench = at(INCH)
    bench.hear("what_setting")
    assert bench.value("step.wrench", "setting") == str(
        Quantity(Fraction("194.7"), Quantity.parse("1 lbf·in").unit)
    )


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("long wrench", "wrench.out_of_range"),
        ("old wrench", "wrench.past_calibration"),
        ("other wrench", "wrench.unknown"),
        ("inch wrench", "step.wrench"),
    ],
)
def test_a_wrench_is_judged_when_it_is_taken(name: str, said: str) -> None:
    """Out of its range, past its calibration or unknown: it is not taken."""
    bench = at(SMALL, INCH, LONG, OLD)
    before = bench.state.wrench
    assert bench.hear("use_wrench", wrench=name) == (said,)
    assert bench.state.wrench == (name if said == "step.wrench" else before)


def test_the_record_says_which_wrench_and_setting() -> None:
    """A torque stands in the record with its tool, in the tool's unit."""
    bench = at(SMALL, INCH)
    bench.hear("use_wrench", wrench="inch wrench")
    bench.answer()
    bench.answer()
    (row,) = account(bench.setting, bench.state)["torques"]
    assert (row["wrench"], row["set_to"]) == ("inch wrench", bench.state.progress.done[-1].set_to)
    assert row["set_to"].endswith("lbf·in")


def test_without_a_fitting_wrench_it_is_said() -> None:
    """A shop whose wrenches all lie elsewhere hears so with the torque; nothing is made up."""
    bench = at(LONG, OLD)
    assert "wrench.none_fits" in bench.said()
    assert "step.wrench" not in bench.said()


def test_a_shop_without_wrenches_is_not_asked_about_them() -> None:
    """The question is answered, and nothing can be taken in hand."""
    bench = Bench().run_to("hose-on")
    assert bench.hear("what_setting") == ("answer.no_wrench",)
    assert bench.state.mode is Mode.STEP


@pytest.mark.parametrize("one", [SMALL, INCH, LONG, OLD])
def test_a_wrench_comes_back_from_the_record(one: ShopWrench) -> None:
    """The header's plain data is the same wrench again."""
    assert wrench_from_data(wrench_to_data(one)) == one
    with pytest.raises(ValueError, match="torque wrench"):
        wrench_from_data({"name": "x"})
