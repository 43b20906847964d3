"""Figures as findings write them: exact decimals, rounded torques, shares and ratios."""

from __future__ import annotations

from decimal import Decimal, localcontext
from fractions import Fraction
from typing import Final

from assistant.trade.quantity import Quantity, unit_named
from assistant.trade.units import rounded

_MM: Final = unit_named("mm")


def in_mm(length: Quantity) -> Quantity:
    """A length in mm, exact.

    Raises:
        ValueError: it is no length.
    """
    return length.to(_MM)


def decimal(quantity: Quantity) -> str:
    """The quantity as a decimal number, exact up to ten places: 0.03125 mm, never 1/32."""
    with localcontext() as context:
        context.prec = 40
        value = Decimal(quantity.value.numerator) / Decimal(quantity.value.denominator)
        text = f"{value:.10f}".rstrip("0").rstrip(".")
    return f"{text} {quantity.unit.symbol}"


def about(quantity: Quantity) -> str:
    """The quantity to one decimal place: 10.5 N·m."""
    return decimal(rounded(quantity, 1))


def times(one: Quantity, other: Quantity) -> str:
    """How many times the other one is, to one decimal place, two below 1.1: "2.4", "1.05".

    Raises:
        ValueError: they measure different things, or the other is nothing.
    """
    ratio = one.to(other.unit).value / other.value
    return f"{float(ratio):.1f}" if ratio >= Fraction(11, 10) else f"{float(ratio):.2f}"


def percent(share: Fraction) -> str:
    """A share as percent, to one place at most: 4 %, 6.3 %."""
    return f"{float(share * 100):.1f}".removesuffix(".0") + " %"
