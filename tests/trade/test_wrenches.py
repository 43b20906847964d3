"""Torque wrenches: range, tolerance, choice."""

from __future__ import annotations

from fractions import Fraction

import pytest

from assistant.trade.limits import Limits, Standing, Verdict
from assistant.trade.quantity import Quantity
from assistant.trade.wrenches import TorqueWrench, choose, tolerance
from tests.trade.outside import outside


def wrench(name: str, most: str, least: str | None = None) -> TorqueWrench:
    """A wrench by the ends of its scale."""
    return TorqueWrench(name, Quantity.parse(most), Quantity.parse(least) if least else None)


SMALL = wrench("small", "25 N·m")
MIDDLE = wrench("middle", "75 lbf·ft", "10 lbf·ft")
LARGE = wrench("large", "200 N·m", "40 N·m")


@outside("ISO 6789")
@pytest.mark.parametrize(
    ("torque", "share"),
    [
        ("10 N·m", 6),
        ("4 N·m", 6),
        ("10.1 N·m", 4),
        ("88 lbf·in", 6),
        ("22 N·m", 4),
        ("8 lbf·ft", 4),
    ],
)
def test_tolerance_of_setting_tools(torque: str, share: int) -> None:
    """ISO 6789 (2003 and 2017): ±6 % up to 10 N·m, ±4 % above."""
    assert tolerance(Quantity.parse(torque)) == Fraction(share, 100)


@pytest.mark.parametrize(
    ("torque", "names"),
    [
        ("4.9 N·m", []),
        ("5 N·m", ["small"]),
        ("25 N·m", ["small", "middle"]),
        ("80 lbf·in", ["small"]),
        ("15 lbf·ft", ["small", "middle"]),
        ("26 lbf·ft", ["middle"]),
        ("40 N·m", ["middle", "large"]),
        ("200 N·m", ["large"]),
        ("201 N·m", []),
    ],
)
def test_the_smallest_that_covers_is_chosen(torque: str, names: list[str]) -> None:
    """20 % to 100 % of the scale, ends included; across units (15 lbf·ft is 20.3 N·m)."""
    assert [w.name for w in choose((LARGE, MIDDLE, SMALL), Quantity.parse(torque))] == names


@outside("ISO 6789", values=2)
def test_a_first_mark_above_a_fifth_counts() -> None:
    """ISO 6789-1:2017: the range begins at the lowest mark that was calibrated."""
    assert wrench("a", "100 N·m", "30 N·m").from_ == Quantity.parse("30 N·m")
    assert wrench("a", "100 N·m", "5 N·m").from_ == Quantity.parse("20 N·m")


def test_a_torque_is_shown_in_the_wrench_s_own_unit() -> None:
    """22 N·m on a wrench marked in lbf·ft: 22 / 1.3558179483314004, exactly."""
    shown = MIDDLE.shows(Quantity.parse("22 N·m"))
    assert shown.unit.symbol == "lbf·ft"
    assert shown.value == 22 / Fraction("1.3558179483314004")


def test_a17_the_conversion_that_was_done_in_the_head() -> None:
    """1000 inch pounds are 83 1/3 foot pounds, exactly, not 42; and 42 is under the lowest, 800."""
    wanted, wrong = Quantity.parse("1000 lbf·in"), Quantity.parse("42 lbf·ft")
    assert MIDDLE.shows(wanted).value == Fraction(250, 3)
    assert wrong.to(wanted.unit).value == 504
    assert Limits(Quantity.parse("800 lbf·in"), Quantity.parse("1140 lbf·in")).judge(wrong) == (
        Verdict(Standing.BELOW, Quantity.parse("800 lbf·in"), Quantity.parse("296 lbf·in"))
    )


@pytest.mark.parametrize(
    ("most", "least", "said"),
    [
        ("25 mm", None, "is no torque"),
        ("25 N·m", "5 V", "is no torque"),
        ("25 N·m", "25 N·m", "no range"),
        ("0 N·m", None, "no range"),
    ],
)
def test_what_is_no_wrench_is_refused(most: str, least: str | None, said: str) -> None:
    """A scale is of torque and has two ends."""
    with pytest.raises(ValueError, match=said):
        wrench("w", most, least)
