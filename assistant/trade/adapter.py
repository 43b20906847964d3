"""A crowfoot or other adapter on a torque wrench: what to set so that the fastener gets its torque.

S = T · L / (L + E · cos θ), with S the setting, T the wanted torque, L from the middle of the
grip to the drive square, E from the square to the fastener, θ the angle of the adapter: 0°
straight out, 90° square to the handle (no correction), 180° turned back over it.
US Army TM 1-1500-204-23-9 (straight), US Army TM 9-254 (angled), US Navy training manual 14315.
"""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Final

from assistant.trade.quantity import Dimension, Quantity, unit_named

_METER: Final = unit_named("m")
_EXACT_COSINES: Final = {
    0: Fraction(1), 60: Fraction(1, 2), 90: Fraction(0), 120: Fraction(-1, 2), 180: Fraction(-1),
}  # fmt: skip
STRAIGHT: Final = Quantity(Fraction(0), unit_named("°"))


def setting(
    wanted: Quantity, lever: Quantity, offset: Quantity, angle: Quantity = STRAIGHT
) -> Quantity:
    """What the wrench is set to so that the fastener gets the wanted torque, in its unit.

    Exact for 0°, 60°, 90°, 120° and 180°. The hand stays on the middle of the grip.

    Args:
        wanted: torque at the fastener.
        lever: L, middle of the grip to drive square.
        offset: E, drive square to fastener.
        angle: θ, 0° straight out to 180° turned back.

    Raises:
        ValueError: a length that is not above zero, an angle outside 0 to 360°, or an adapter
            turned back so far that it reaches the grip.
    """
    return Quantity(wanted.value / _gain(wanted, lever, offset, angle), wanted.unit)


def delivered(
    reading: Quantity, lever: Quantity, offset: Quantity, angle: Quantity = STRAIGHT
) -> Quantity:
    """What the fastener gets when the wrench shows a reading, in its unit; see `setting`.

    Raises:
        ValueError: as `setting`.
    """
    return Quantity(reading.value * _gain(reading, lever, offset, angle), reading.unit)


def _gain(torque: Quantity, lever: Quantity, offset: Quantity, angle: Quantity) -> Fraction:
    """Torque at the fastener for one unit shown: (L + E · cos θ) / L."""
    if torque.unit.dimension is not Dimension.TORQUE:
        msg = f"{torque} is no torque"
        raise ValueError(msg)
    long, off = lever.to(_METER).value, offset.to(_METER).value
    if long <= 0 or off < 0:
        msg = f"a wrench of {lever} with an adapter of {offset} can't be; measure both again"
        raise ValueError(msg)
    degrees = angle.to(STRAIGHT.unit).value
    if not 0 <= degrees <= 360:
        msg = f"an adapter stands at 0° to 360°, not at {angle}"
        raise ValueError(msg)
    effective = long + off * _cosine(degrees)
    if effective <= 0:
        msg = f"an adapter of {offset} turned back over a lever of {lever} turns nothing"
        raise ValueError(msg)
    return effective / long


def _cosine(degrees: Fraction) -> Fraction:
    folded = min(degrees, 360 - degrees)
    if folded.denominator == 1 and int(folded) in _EXACT_COSINES:
        return _EXACT_COSINES[int(folded)]
    return Fraction(math.cos(math.radians(float(folded))))
