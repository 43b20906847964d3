"""Battery voltage against published tables."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant import packaged
from assistant.trade.battery import charge_at_rest, charging
from assistant.trade.quantity import Quantity, unit_named
from tests.trade.outside import outside

TABLES = packaged.trade_tables()
# Percent, and volts in the two tables that were seen: US Army TM 5-3805-262-20 (no-load voltage)
# and a technical column with specific gravity.
ARMY = [(100, "12.6"), (75, "12.4"), (50, "12.2"), (25, "12.0"), (0, "11.7")]
COLUMN = [(100, "12.66"), (75, "12.45"), (50, "12.3"), (25, "12.15")]


@outside("US Army TM 5-3805-262-20")
@pytest.mark.parametrize(("percent", "volts"), ARMY)
def test_at_a_voltage_of_the_army_s_table(percent: int, volts: str) -> None:
    """Its own figure is the upper end, since the other table asks for more voltage."""
    band = charge_at_rest(Quantity.parse(f"{volts} V"), TABLES.battery_at_rest, "flooded")
    # the other table ends at 25 %, so below that it is the higher one
    assert band.high == max(percent, 25)
    assert percent == 0 or band.low <= percent


@outside("battery column with specific gravity")
@pytest.mark.parametrize(("percent", "volts"), COLUMN)
def test_at_a_voltage_of_the_other_table(percent: int, volts: str) -> None:
    """Its own figure is the lower end."""
    band = charge_at_rest(Quantity.parse(f"{volts} V"), TABLES.battery_at_rest, "flooded")
    assert band.low == percent
    assert band.high >= percent


def test_an_empty_battery() -> None:
    """11.7 V or less is nothing in the army's table; half way to 12.0 V is half of 25 %."""
    for volts, low in (("11 V", 0), ("11.7 V", 0), ("11.85 V", Fraction(25, 2))):
        band = charge_at_rest(Quantity.parse(volts), TABLES.battery_at_rest, "flooded")
        assert band.low == low


def test_between_two_rows() -> None:
    """12.5 V: half way between 75 and 100 % in the army's table, less in the other."""
    band = charge_at_rest(Quantity.parse("12.5 V"), TABLES.battery_at_rest, "flooded")
    assert band.high == Fraction(175, 2)
    assert band.low == 75 + Fraction(5, 21) * 25


@given(st.fractions(min_value=8, max_value=16, max_denominator=100))
def test_more_voltage_is_never_less_charge(volts: Fraction) -> None:
    """Both ends of the band rise, and it is a band."""
    unit = unit_named("V")
    for kind in ("flooded", "glass mat"):
        now, more = (
            charge_at_rest(Quantity(v, unit), TABLES.battery_at_rest, kind)
            for v in (volts, volts + Fraction(1, 20))
        )
        assert 0 <= now.low <= now.high <= 100
        assert now.low <= more.low
        assert now.high <= more.high


def test_a_glass_mat_needs_more_voltage_for_full() -> None:
    """12.66 V is full for one and not for the other, whose makers ask for 12.8 V."""
    volts = Quantity.parse("12.66 V")
    assert charge_at_rest(volts, TABLES.battery_at_rest, "flooded").low == 100
    assert charge_at_rest(volts, TABLES.battery_at_rest, "glass mat").high < 100


# A vehicle maker's owner's manual, charging table for AGM batteries: full from 12.8 V, and so on.
GLASS_MAT = [(100, "12.8"), (75, "12.6"), (50, "12.3"), (25, "12.0")]


@outside("owner's manual, charging table for AGM batteries")
@pytest.mark.parametrize(("percent", "volts"), GLASS_MAT)
def test_at_a_voltage_of_the_glass_mat_table(percent: int, volts: str) -> None:
    """Its own figure lies in the band, within ten percent of the other table's."""
    band = charge_at_rest(Quantity.parse(f"{volts} V"), TABLES.battery_at_rest, "glass mat")
    assert band.low <= percent <= band.high
    assert band.high - band.low <= 10


@outside("battery tester's manual, charging")
@pytest.mark.parametrize(
    ("volts", "said"),
    [
        ("13.4 V", "below"),
        ("14 V", "within"),
        ("14.4 V", "within"),
        ("14.7 V", "within"),
        ("15.3 V", "above"),
    ],
)
def test_charging(volts: str, said: str) -> None:
    """A battery tester's manual: regulators hold 14.0 to 14.7 V, ±0.5 V by battery and maker."""
    verdict = charging(Quantity.parse(volts), TABLES.battery_charging, "flooded")
    assert verdict.standing.value == said


def test_unknown_kinds_are_refused() -> None:
    """No table, no answer."""
    with pytest.raises(ValueError, match="no table"):
        charge_at_rest(Quantity.parse("12 V"), TABLES.battery_at_rest, "dry cell")
    with pytest.raises(ValueError, match="no charging window"):
        charging(Quantity.parse("12 V"), TABLES.battery_charging, "dry cell")
