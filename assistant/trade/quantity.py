"""Quantities: an exact value with its unit, never a bare number or a string.

Conversions are exact fractions of the SI unit. Sources: NIST SP 811 Appendix B.8/B.9
(inch 25.4 mm, foot 0.3048 m, pound 0.45359237 kg, standard gravity 9.80665 m/s²,
US gallon 231 in³).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from typing import Final, Self

_INCH = Fraction(254, 10_000)
_FOOT = Fraction(3048, 10_000)
_POUND_FORCE = Fraction(45_359_237, 100_000_000) * Fraction(980_665, 100_000)


class Dimension(Enum):
    """What kind of thing a unit measures; only like converts to like."""

    TORQUE = "torque"
    LENGTH = "length"
    TIME = "time"
    VOLUME = "volume"
    VOLTAGE = "voltage"
    PRESSURE = "pressure"
    TEMPERATURE = "temperature"
    MASS = "mass"
    ANGLE = "angle"
    COUNT = "count"
    FORCE = "force"
    AREA = "area"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of measure.

    Attributes:
        symbol: how the screen writes it, as NIST SP 811 does (lbf·ft, N·m).
        factor: how many of the dimension's base unit one of it is, exact.
        aliases: other spellings that an author may type.
    """

    symbol: str
    dimension: Dimension
    factor: Fraction
    aliases: tuple[str, ...] = ()


_MM = Fraction(1, 1000)
UNITS: Final[tuple[Unit, ...]] = (
    Unit("N·m", Dimension.TORQUE, Fraction(1), ("Nm", "N.m", "N*m", "N m")),
    Unit(
        "lbf·ft",
        Dimension.TORQUE,
        _POUND_FORCE * _FOOT,
        ("lbf.ft", "ft-lb", "ft·lbf", "lb-ft", "ft lb"),
    ),
    Unit(
        "lbf·in",
        Dimension.TORQUE,
        _POUND_FORCE * _INCH,
        ("lbf.in", "in-lb", "in·lbf", "lb-in", "in lb"),
    ),
    Unit("kgf·m", Dimension.TORQUE, Fraction(980_665, 100_000), ("kgf.m", "kg-m")),
    Unit("mm", Dimension.LENGTH, _MM),
    Unit("cm", Dimension.LENGTH, _MM * 10),
    Unit("m", Dimension.LENGTH, Fraction(1)),
    Unit("in", Dimension.LENGTH, _INCH, ("inch", "inches")),
    Unit("s", Dimension.TIME, Fraction(1), ("sec", "seconds", "second")),
    Unit("min", Dimension.TIME, Fraction(60), ("minutes", "minute")),
    Unit("h", Dimension.TIME, Fraction(3600), ("hours", "hour")),
    Unit("mL", Dimension.VOLUME, Fraction(1, 1_000_000), ("ml",)),
    Unit("L", Dimension.VOLUME, Fraction(1, 1000), ("l", "liter", "liters")),
    Unit("fl oz", Dimension.VOLUME, 231 * _INCH**3 / 128, ("floz",)),
    Unit("qt", Dimension.VOLUME, 231 * _INCH**3 / 4, ("quart", "quarts")),
    Unit("V", Dimension.VOLTAGE, Fraction(1), ("volt", "volts")),
    Unit("kPa", Dimension.PRESSURE, Fraction(1000)),
    Unit("bar", Dimension.PRESSURE, Fraction(100_000)),
    Unit("psi", Dimension.PRESSURE, _POUND_FORCE / _INCH**2, ("lbf/in²",)),
    Unit("g", Dimension.MASS, Fraction(1, 1000)),
    Unit("kg", Dimension.MASS, Fraction(1)),
    Unit("lb", Dimension.MASS, Fraction(45_359_237, 100_000_000), ("lbs",)),
    Unit("°", Dimension.ANGLE, Fraction(1), ("deg", "degrees")),
    Unit("turn", Dimension.ANGLE, Fraction(360), ("turns",)),
    Unit("°C", Dimension.TEMPERATURE, Fraction(1), ("degC",)),
    Unit("pcs", Dimension.COUNT, Fraction(1), ("pieces", "pc")),
)
_BY_NAME: Final = {name: unit for unit in UNITS for name in (unit.symbol, *unit.aliases)}

_LONGEST: Final = 40  # characters of a quantity as a person writes it; longer is no quantity
_NUMBER = re.compile(
    r"""(?P<sign>[-−]?)\s*(?:
        (?P<whole>\d+)\s+(?P<mnum>\d+)/(?P<mden>[1-9]\d*)   # 1 1/2
      | (?P<num>\d+)/(?P<den>[1-9]\d*)                      # 9/16
      | (?P<dec>\d+(?:\.\d+)?)                              # 12.4
    )""",
    re.VERBOSE,
)


def unit_named(name: str) -> Unit:
    """The unit with this symbol or alias.

    Raises:
        ValueError: no such unit; the message lists the symbols.
    """
    unit = _BY_NAME.get(name.strip())
    if unit is None:
        known = ", ".join(u.symbol for u in UNITS)
        msg = f'"{name}" is not a unit known here; one of: {known}'
        raise ValueError(msg)
    return unit


def parse_number(text: str) -> Fraction:
    """An exact number from "12.4", "9/16" or "1 1/2".

    Raises:
        ValueError: the text is none of these.
    """
    match = _NUMBER.fullmatch(text.strip())
    if match is None:
        msg = f'"{text}" is not a number; write it like 12.4, 9/16 or 1 1/2'
        raise ValueError(msg)
    if match["dec"] is not None:
        value = Fraction(match["dec"])
    elif match["num"] is not None:
        value = Fraction(int(match["num"]), int(match["den"]))
    else:
        value = int(match["whole"]) + Fraction(int(match["mnum"]), int(match["mden"]))
    return -value if match["sign"] else value


def number_text(value: Fraction) -> str:
    """The number as a technician writes it: a decimal if it terminates early, else a fraction."""
    sign = "-" if value < 0 else ""
    value = abs(value)
    for places in range(4):
        scaled = value * 10**places
        if scaled.denominator == 1:
            digits = f"{int(scaled):0{places + 1}d}"
            return sign + (digits if places == 0 else f"{digits[:-places]}.{digits[-places:]}")
    whole, rest = divmod(value.numerator, value.denominator)
    fraction = f"{rest}/{value.denominator}"
    return sign + (f"{whole} {fraction}" if whole else fraction)


@dataclass(frozen=True, slots=True)
class Quantity:
    """An exact value and its unit, remembering how it was written.

    Two quantities are equal when value and unit are; compare across units with `to`.
    """

    value: Fraction
    unit: Unit

    @classmethod
    def parse(cls, text: str) -> Self:
        """Read "22 N·m", "5/32 in", "1 1/2 turn" or "12.4 V".

        Raises:
            ValueError: no number, no unit, or one that is not known.
        """
        if len(text) > _LONGEST:
            msg = "too long for a quantity; write a number and a unit, like 22 N·m or 5/32 in"
            raise ValueError(msg)
        match = _NUMBER.match(text.strip())
        if match is None:
            msg = f'"{text}" is not a quantity; write a number and a unit, like 22 N·m or 5/32 in'
            raise ValueError(msg)
        rest = text.strip()[match.end() :].strip()
        if not rest:
            msg = f'"{text}" has no unit; write a number and a unit, like 22 N·m or 5/32 in'
            raise ValueError(msg)
        return cls(parse_number(match.group()), unit_named(rest))

    def to(self, unit: Unit) -> Quantity:
        """The same quantity in another unit of its dimension, exact.

        Raises:
            ValueError: the units measure different things.
        """
        if unit.dimension is not self.unit.dimension:
            mine, theirs = self.unit.dimension.value, unit.dimension.value
            msg = f"{self} is {_a(mine)}, {unit.symbol} is {_a(theirs)}"
            raise ValueError(msg)
        return Quantity(self.value * self.unit.factor / unit.factor, unit)

    def number_text(self) -> str:
        """The number alone, inches as fractions where the trade writes them so."""
        inches = self.unit.dimension is Dimension.LENGTH and self.unit.symbol == "in"
        return inch_text(self.value) if inches else number_text(self.value)

    def __str__(self) -> str:
        space = "" if self.unit.symbol == "°" else " "
        return f"{self.number_text()}{space}{self.unit.symbol}"


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] in "aeiou" else f"a {kind}"


def inch_text(value: Fraction) -> str:
    """Inches as the trade writes them: sixty-fourths and coarser as fractions, else decimal."""
    if value.denominator > 1 and 64 % value.denominator == 0:
        sign = "-" if value < 0 else ""
        whole, rest = divmod(abs(value.numerator), value.denominator)
        fraction = f"{rest}/{value.denominator}"
        return sign + (f"{whole} {fraction}" if whole else fraction)
    return number_text(value)
