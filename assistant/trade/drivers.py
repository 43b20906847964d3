"""Drivers, and whether one fits a head, is near enough to round it off, or doesn't go on."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction
from typing import Final

from assistant.trade.quantity import Quantity, parse_number, unit_named

_MM: Final = unit_named("mm")
_SIZE: Final = re.compile(
    r"(?<![\w./#-])(?P<number>\d+(?: \d+/[1-9]\d*|/[1-9]\d*|\.\d+)?)\s?"
    r"(?P<unit>mm|in)\b(?P<rest>[^,;]*)"
)
_LOBULAR: Final = re.compile(r"\bT(?P<number>\d{1,3})\b")
# Play as a share of the head's size. A wrench's own opening is up to 1.3 % over its nominal
# size (ASME B18.2.2: 1.508 to 1.520 in for 1 1/2 in), so a little less than nothing may still
# be pressed on. The upper bound: common practice, no source.
_PRESSED_ON: Final = Fraction(-13, 1000)
_GRIPS: Final = Fraction(4, 100)


class Drive(Enum):
    """What a head is turned by."""

    EXTERNAL_HEX = "external hex"
    INTERNAL_HEX = "internal hex"
    HEXALOBULAR = "hexalobular"
    CROSS = "cross"
    SLOT = "slot"


@dataclass(frozen=True, slots=True)
class Driver:
    """A driver by kind and size.

    Attributes:
        size: across the flats, for hex drives.
        number: of a hexalobular drive (ISO 10664): 27 for T27.
        tool: its name in the text that it was read from; two drivers are equal without it.
    """

    drive: Drive
    size: Quantity | None = None
    number: int | None = None
    tool: str = field(default="", compare=False)

    def __str__(self) -> str:
        """Its size and kind: "6 mm internal hex", "T27"."""
        if self.number is not None:
            return f"T{self.number}"
        return f"{self.size} {self.drive.value}" if self.size is not None else self.drive.value


class Fit(Enum):
    """How a driver sits on a head."""

    FITS = "fits"
    NEAR = "near"  # goes on, or is pressed on, and rounds the head off
    LOOSE = "loose"  # turns on the head without gripping it
    NOT_ON = "not on"  # does not go on, or in
    OTHER_KIND = "other kind"  # a key where a socket belongs, and the like


def driver_in(text: str, words: Mapping[str, Drive]) -> Driver | None:
    """The driver that a text names, None when it names none that is known.

    Args:
        text: "6 mm hex key", "9/16 in socket", "T27", "14 mm crowfoot, square to the handle".
        words: names of drivers in the text's language, with what they turn.
    """
    lobular = _LOBULAR.search(text)
    if lobular is not None:
        return Driver(Drive.HEXALOBULAR, number=int(lobular["number"]))
    sized = _SIZE.search(text)
    rest = sized["rest"] if sized is not None else text
    tool = _first_name(rest, words)
    if tool is None:
        return None
    drive = words[tool]
    if drive in {Drive.CROSS, Drive.SLOT}:
        return Driver(drive, tool=tool)
    if sized is None:
        return None
    size = Quantity(parse_number(sized["number"]), unit_named(sized["unit"]))
    return Driver(drive, size, tool=tool) if size.value > 0 else None


def _first_name(text: str, words: Mapping[str, Drive]) -> str | None:
    """The first of these names in the text; of two in one place the longer."""
    found = [
        (match.start(), -len(name), name)
        for name in words
        if (match := re.search(rf"\b{re.escape(name)}\b", text, re.IGNORECASE)) is not None
    ]
    return min(found)[2] if found else None


def play(driver: Quantity, head: Quantity, drive: Drive) -> Quantity:
    """How much smaller the inner of the two is than the outer, in mm; below zero: not on.

    Args:
        driver: size of the wrench or key.
        head: size of the head's flats, or of its socket.
        drive: an external hex has the driver outside, an internal one inside.

    Raises:
        ValueError: a size that is no length.
    """
    outside, inside = driver.to(_MM).value, head.to(_MM).value
    difference = outside - inside if drive is Drive.EXTERNAL_HEX else inside - outside
    return Quantity(difference, _MM)


def fit(driver: Driver, head: Driver) -> Fit:
    """How a driver sits on a head, told by the driver that belongs to the head.

    Exact sizes fit. Hexalobular drives fit their own number only. Play up to 4 % of the head's
    size rounds it off: 9/16 in on 14 mm has 0.2875 mm, 5/32 in in 4 mm has 0.03125 mm.
    """
    if driver.drive is not head.drive:
        return Fit.OTHER_KIND
    if driver.number is not None and head.number is not None:
        return _by_size(Fraction(head.number - driver.number))
    if driver.size is None or head.size is None:
        return Fit.FITS
    gap = play(driver.size, head.size, head.drive).value
    near = gap != 0 and _PRESSED_ON <= gap / head.size.to(_MM).value <= _GRIPS
    return Fit.NEAR if near else _by_size(gap)


def _by_size(gap: Fraction) -> Fit:
    if gap == 0:
        return Fit.FITS
    return Fit.LOOSE if gap > 0 else Fit.NOT_ON
