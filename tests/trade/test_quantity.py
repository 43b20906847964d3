"""Quantities against published conversion factors."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.quantity import (
    UNITS,
    Quantity,
    Unit,
    inch_text,
    number_text,
    parse_number,
    unit_named,
)
from tests.trade.outside import outside

# NIST SP 811 (2008), Appendix B.8/B.9: exact where the table prints bold, else to its figures.
NIST = [
    ("1 lbf·ft", "N·m", 1.355818),
    ("1 lbf·in", "N·m", 0.1129848),
    ("1 kgf·m", "N·m", 9.80665),
    ("1 in", "mm", 25.4),
    ("1 psi", "kPa", 6.894757),
    ("1 bar", "kPa", 100.0),
    ("1 fl oz", "mL", 29.57353),
    ("1 qt", "L", 0.9463529),
    ("1 lb", "kg", 0.45359237),
]


@outside("NIST SP 811")
@pytest.mark.parametrize(("text", "unit", "value"), NIST)
def test_conversions_are_those_of_the_tables(text: str, unit: str, value: float) -> None:
    """One of each unit, to the seven figures that the tables print."""
    converted = Quantity.parse(text).to(unit_named(unit))
    assert math.isclose(float(converted.value), value, rel_tol=5e-7)


def test_exact_torque_units() -> None:
    """1 lbf·ft = 1.3558179483314004 N·m exactly (0.45359237 · 9.80665 · 0.3048)."""
    assert Quantity.parse("1 lbf·ft").to(unit_named("N·m")).value == Fraction("1.3558179483314004")


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("22 Nm", "22 N·m"),
        ("22N·m", "22 N·m"),
        ("5/32 in", "5/32 in"),
        ("0.5 in", "1/2 in"),
        ("1.1 in", "1.1 in"),
        ("1 1/2 turn", "1.5 turn"),
        ("12.40 V", "12.4 V"),
        ("-5 degC", "-5 °C"),
        ("90 deg", "90°"),
        ("1/3 L", "1/3 L"),
    ],
)
def test_a_quantity_is_read_and_shown(text: str, shown: str) -> None:
    """As authors write it in, as the trade writes it out."""
    assert str(Quantity.parse(text)) == shown


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("22", "has no unit"),
        ("N·m", "is not a quantity"),
        ("", "is not a quantity"),
        ("22 Nmm", "is not a unit known here; one of: N·m"),
        ("1/0 in", "is not a unit known here"),
        ("9" * 5000 + " mm", "too long"),
    ],
)
def test_what_is_no_quantity_is_refused(text: str, said: str) -> None:
    """The message says how to write one."""
    with pytest.raises(ValueError, match=said) as error:
        Quantity.parse(text)
    assert len(str(error.value)) < 300


def test_unlike_things_do_not_convert() -> None:
    """A length is no torque."""
    with pytest.raises(ValueError, match="is a length, N·m is a torque"):
        Quantity.parse("3 mm").to(unit_named("N·m"))


numbers = st.fractions(min_value=-10_000, max_value=10_000, max_denominator=64)


@given(numbers, st.sampled_from(UNITS))
def test_what_is_shown_is_read_again(value: Fraction, unit: Unit) -> None:
    """No figure is lost between screen and record."""
    quantity = Quantity(value, unit)
    assert Quantity.parse(str(quantity)) == quantity
    assert parse_number(number_text(value)) == value


@given(numbers, st.sampled_from(UNITS), st.sampled_from(UNITS))
def test_converting_there_and_back_changes_nothing(value: Fraction, one: Unit, other: Unit) -> None:
    """Conversions are exact."""
    quantity = Quantity(value, one)
    if one.dimension is other.dimension:
        assert quantity.to(other).to(one) == quantity


def test_unit_names_are_unique() -> None:
    """No alias means two units."""
    names = [name for unit in UNITS for name in (unit.symbol, *unit.aliases)]
    assert len(names) == len(set(names))


def test_sixty_fourths_are_fractions() -> None:
    """Drill and wrench sizes stay fractions; finer measures are decimal."""
    assert inch_text(Fraction(9, 16)) == "9/16"
    assert inch_text(Fraction(3, 2)) == "1 1/2"
    assert inch_text(Fraction(1, 1000)) == "0.001"
