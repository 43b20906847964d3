"""Figures are written exactly, or rounded where they are meant to be."""

from __future__ import annotations

from fractions import Fraction

import pytest

from assistant.checklist.figures import about, decimal, in_mm, percent, times
from assistant.trade.quantity import Quantity

Q = Quantity.parse


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1/32 in", "0.03125 in"),
        ("25.4 mm", "25.4 mm"),
        ("100 mm", "100 mm"),
        ("-1/4 in", "-0.25 in"),
        ("1/3 L", "0.3333333333 L"),
    ],
)
def test_decimals_are_exact_to_ten_places(text: str, said: str) -> None:
    """Never as a fraction, and without zeros that say nothing."""
    assert decimal(Q(text)) == said


def test_inches_in_mm() -> None:
    """1 in is 25.4 mm (NIST SP 811), so 9/16 in is 14.2875 mm."""
    assert decimal(in_mm(Q("9/16 in"))) == "14.2875 mm"


def test_rounded_figures() -> None:
    """One place; ratios near one get two, so that they are not told as one."""
    assert about(Q("10.4922 N·m")) == "10.5 N·m"
    assert times(Q("25 N·m"), Q("10.4922 N·m")) == "2.4"
    assert times(Q("10.9 N·m"), Q("10.5 N·m")) == "1.04"
    assert times(Q("20 lbf·ft"), Q("20 N·m")) == "1.4"
    assert percent(Fraction(4, 100)) == "4 %"
    assert percent(Fraction(1, 16)) == "6.2 %"
