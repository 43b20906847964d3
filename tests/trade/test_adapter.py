"""Crowfoot settings against worked examples of army, navy and maintenance manuals."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.adapter import delivered, setting
from assistant.trade.quantity import Quantity
from tests.trade.outside import value

AIRFRAME = "airframe maintenance manual, standard practice"
EXAMPLES = [
    # TW = TA · L / (L + A); prints 214
    value("US Army TM 1-1500-204-23-9", "300 lbf·in", "10 in", "4 in", "0°", 214.29),
    # S = T · La / (La + Ea), drive-end extension
    value("US Navy training manual 14315", "100 lbf·in", "12 in", "6 in", "0°", 66.67),
    # C = A · T / (A + B), worked
    value(AIRFRAME, "30 lbf·ft", "12 in", "3 in", "0°", 24),
    value(AIRFRAME, "135 lbf·in", "10 in", "1.5 in", "0°", 117.39),
    # The same, turned back toward the handle: T · L / (L − A)
    value(AIRFRAME, "135 lbf·in", "10 in", "1.5 in", "180°", 158.82),
    # Effective lever L + E · cos a; square to the handle needs no correction
    value("US Army TM 9-254", "135 lbf·in", "10 in", "1.5 in", "90°", 135),
    value("US Army TM 9-254", "30 lbf·ft", "12 in", "3 in", "45°", 25.493),
]


@pytest.mark.parametrize(("wanted", "lever", "offset", "angle", "expected"), EXAMPLES)
def test_settings_are_those_of_the_manuals(
    wanted: str, lever: str, offset: str, angle: str, expected: float
) -> None:
    """In the unit of the wanted torque, to the figures that are printed."""
    sizes = (Quantity.parse(one) for one in (lever, offset, angle))
    ours = setting(Quantity.parse(wanted), *sizes)
    assert float(ours.value) == pytest.approx(expected, abs=0.006)
    assert ours.unit == Quantity.parse(wanted).unit


def test_the_manual_s_round_figure_is_exact() -> None:
    """30 · 12 / 15 is 24, not 23.999."""
    sizes = [Quantity.parse(one) for one in ("30 lbf·ft", "12 in", "3 in")]
    assert setting(*sizes).value == 24


lengths = st.fractions(min_value=Fraction(100), max_value=600, max_denominator=4)
offsets = st.fractions(min_value=Fraction(0), max_value=90, max_denominator=4)


@given(lengths, offsets, st.integers(0, 360))
def test_what_is_set_is_delivered(lever: Fraction, offset: Fraction, angle: int) -> None:
    """The setting gives the wanted torque again, exactly, at any angle; mirrored angles agree."""
    wanted, mm = Quantity.parse("40 N·m"), Quantity.parse("1 mm").unit
    sizes = (Quantity(lever, mm), Quantity(offset, mm), Quantity.parse(f"{angle}°"))
    set_to = setting(wanted, *sizes)
    assert delivered(set_to, *sizes) == wanted
    assert setting(wanted, *sizes[:2], Quantity.parse(f"{360 - angle}°")) == set_to


@pytest.mark.parametrize(
    ("wanted", "lever", "offset", "angle", "said"),
    [
        ("4 mm", "10 in", "1 in", "0°", "is no torque"),
        ("4 N·m", "0 in", "1 in", "0°", "can't be"),
        ("4 N·m", "10 in", "-1 in", "0°", "can't be"),
        ("4 N·m", "10 in", "1 in", "400°", "0° to 360°"),
        ("4 N·m", "3 in", "3 in", "180°", "turns nothing"),
        ("4 N·m", "3 V", "3 in", "0°", "is a voltage"),
    ],
)
def test_what_can_not_be_is_refused(
    wanted: str, lever: str, offset: str, angle: str, said: str
) -> None:
    """The message says which measure is wrong."""
    with pytest.raises(ValueError, match=said):
        setting(*(Quantity.parse(one) for one in (wanted, lever, offset, angle)))
