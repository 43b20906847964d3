"""Readings judged against limits, exactly and across units."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.limits import Limits, Standing
from assistant.trade.quantity import Quantity


def limits(low: str | None, high: str | None) -> Limits:
    """Limits by their texts."""
    return Limits(Quantity.parse(low) if low else None, Quantity.parse(high) if high else None)


@pytest.mark.parametrize(
    ("low", "high", "value", "standing", "margin"),
    [
        ("2 mm", "3 mm", "2.4 mm", "within", "0.4 mm"),
        ("2 mm", "3 mm", "2.9 mm", "within", "0.1 mm"),
        ("2 mm", "3 mm", "3 mm", "within", "0 mm"),
        ("2 mm", "3 mm", "3.1 mm", "above", "0.1 mm"),
        ("2 mm", "3 mm", "1/16 in", "below", "0.4125 mm"),  # 1/16 in is 1.5875 mm
        ("2 mm", "3 mm", "1/8 in", "above", "0.175 mm"),  # 3.175 mm
        ("12.4 V", None, "12.4 V", "within", "0 V"),
        ("12.4 V", None, "12.39 V", "below", "0.01 V"),
        (None, "5 L", "5001 mL", "above", "0.001 L"),
    ],
)
def test_a_value_stands_to_its_limits(
    low: str | None, high: str | None, value: str, standing: str, margin: str
) -> None:
    """Limits are included; the margin is to the nearer one, or to the one that is missed."""
    verdict = limits(low, high).judge(Quantity.parse(value))
    assert verdict.standing.value == standing
    assert verdict.margin is not None
    assert verdict.margin == Quantity.parse(margin)


def test_torque_is_judged_in_the_tool_s_unit() -> None:
    """1 lbf·ft is 1.3558179483314004 N·m (NIST SP 811): 16.2 lbf·ft is within 22 N·m ± 4 %."""
    around = Limits.around(Quantity.parse("22 N·m"), Fraction(4, 100))
    assert str(around.at_least) == "21.12 N·m"
    assert around.judge(Quantity.parse("16.2 lbf·ft")).standing is Standing.WITHIN
    assert around.judge(Quantity.parse("17 lbf·ft")).standing is Standing.ABOVE


def test_deviations() -> None:
    """20 mm, 1/2 mm down and 2 mm up, in the nominal's unit."""
    bounds = Limits.deviating(*(Quantity.parse(q) for q in ("2 cm", "1/2 mm", "2 mm")))
    assert (str(bounds.at_least), str(bounds.at_most)) == ("1.95 cm", "2.2 cm")


def test_without_limits_everything_is_within() -> None:
    """And there is no margin to tell."""
    verdict = Limits().judge(Quantity.parse("3 mm"))
    assert (verdict.standing, verdict.limit, verdict.margin) == (Standing.WITHIN, None, None)


def test_what_can_not_be_is_refused() -> None:
    """Other kinds, and tolerances below nothing."""
    with pytest.raises(ValueError, match="is a voltage"):
        limits("2 mm", None).judge(Quantity.parse("2 V"))
    with pytest.raises(ValueError, match="below nothing"):
        Limits.around(Quantity.parse("2 mm"), Fraction(-1))
    with pytest.raises(ValueError, match="without a sign"):
        Limits.deviating(*(Quantity.parse(q) for q in ("2 mm", "-1 mm", "1 mm")))


values = st.fractions(min_value=-50, max_value=50, max_denominator=16)


@given(values, values, values)
def test_within_means_between_the_limits(low: Fraction, high: Fraction, value: Fraction) -> None:
    """As plain comparison says, and the margin is never negative."""
    unit = Quantity.parse("1 mm").unit
    low, high = sorted((low, high))
    verdict = Limits(Quantity(low, unit), Quantity(high, unit)).judge(Quantity(value, unit))
    assert (verdict.standing is Standing.WITHIN) == (low <= value <= high)
    assert verdict.margin is not None
    assert verdict.margin.value >= 0
