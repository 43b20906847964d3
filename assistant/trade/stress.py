"""Tensile stress area of a thread, computed and as printed."""

from __future__ import annotations

import math
from collections.abc import Mapping
from fractions import Fraction
from typing import Final

from assistant.trade.quantity import Quantity
from assistant.trade.threads import Thread
from assistant.trade.units import SQUARE_INCH, SQUARE_MM

_QUARTER_PI: Final = Fraction(math.pi) / 4
_METRIC: Final = Fraction("0.9382")  # ISO 898-1 clause 9.1.6, short form
_INCH: Final = Fraction("0.9743")  # ASME B1.1 Appendix B; exact 9·√3/16 = 0.974279


def computed_area(thread: Thread) -> Quantity:
    """The tensile stress area from diameter d and pitch P, in mm² (metric) or in² (inch).

    ISO 898-1 clause 9.1.6: π/4 · (d − 0.9382 P)². ASME B1.1 Appendix B: π/4 · (D − 0.9743/n)².
    """
    metric = thread.series == "M"
    factor = _METRIC if metric else _INCH
    diameter = thread.diameter.value - factor * thread.pitch.value
    return Quantity(_QUARTER_PI * diameter**2, SQUARE_MM if metric else SQUARE_INCH)


def stress_area(thread: Thread, printed: Mapping[str, Quantity]) -> Quantity:
    """The area that the standard prints for the thread, or the computed one where it prints none.

    Args:
        thread: the thread.
        printed: areas by designation (`Tables.stress_areas`: ISO 898-1, ASME B1.1).
    """
    return printed.get(str(thread)) or computed_area(thread)
