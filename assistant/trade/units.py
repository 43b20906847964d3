"""Units that tables and tools are marked in, but no checklist is written in.

Exact fractions of the SI unit, from NIST SP 811 Appendix B.9 (pound 0.45359237 kg, inch
25.4 mm, standard gravity 9.80665 m/s²). The units an author may write are in `quantity`.
"""

from __future__ import annotations

from fractions import Fraction
from typing import Final

from assistant.trade.quantity import Dimension, Quantity, Unit, unit_named

_POUND_FORCE: Final = Fraction(45_359_237, 100_000_000) * Fraction(980_665, 100_000)
_INCH: Final = Fraction(254, 10_000)

NEWTON: Final = Unit("N", Dimension.FORCE, Fraction(1))
KILONEWTON: Final = Unit("kN", Dimension.FORCE, Fraction(1000))
POUND_FORCE: Final = Unit("lbf", Dimension.FORCE, _POUND_FORCE)
SQUARE_MM: Final = Unit("mm²", Dimension.AREA, Fraction(1, 1_000_000))
SQUARE_INCH: Final = Unit("in²", Dimension.AREA, _INCH**2)
MEGAPASCAL: Final = Unit("MPa", Dimension.PRESSURE, Fraction(1_000_000))
KGF_CM: Final = Unit("kgf·cm", Dimension.TORQUE, Fraction(980_665, 10_000_000))
OZF_INCH: Final = Unit("ozf·in", Dimension.TORQUE, _POUND_FORCE / 16 * _INCH)

_HERE: Final = {
    unit.symbol: unit
    for unit in (
        NEWTON, KILONEWTON, POUND_FORCE, SQUARE_MM, SQUARE_INCH, MEGAPASCAL, KGF_CM, OZF_INCH,
    )
}  # fmt: skip


def any_unit(symbol: str) -> Unit:
    """The unit of this symbol, whether authors write it or only tables and tools do.

    Raises:
        ValueError: no such unit.
    """
    return _HERE.get(symbol) or unit_named(symbol)


def rounded(quantity: Quantity, places: int = 1) -> Quantity:
    """The quantity to so many decimal places in its own unit, half to even."""
    return Quantity(Fraction(round(quantity.value, places)), quantity.unit)
