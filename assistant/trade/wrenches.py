"""Torque wrenches: which one for a torque, what it shows, and how far off it may be."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from assistant.trade.quantity import Dimension, Quantity, unit_named

_SMALL: Final = Quantity(Fraction(10), unit_named("N·m"))
_FIRST_FIFTH: Final = Fraction(1, 5)


@dataclass(frozen=True, slots=True)
class TorqueWrench:
    """A torque wrench of the shop.

    Attributes:
        name: what the shop calls it.
        most: the end of its scale, in the unit it is marked in.
        least: the first mark that was calibrated; None takes a fifth of the scale.
        lever: middle of the grip to drive square, for adapters; None when not measured.
    """

    name: str
    most: Quantity
    least: Quantity | None = None
    lever: Quantity | None = None

    def __post_init__(self) -> None:
        """Refuse what no wrench is.

        Raises:
            ValueError: a scale that is no torque, or ends before it begins.
        """
        for mark in (self.most, self.least):
            if mark is not None and mark.unit.dimension is not Dimension.TORQUE:
                msg = f"{mark} is no torque, so no mark on a torque wrench"
                raise ValueError(msg)
        if not 0 < self.from_.value < self.most.value:
            msg = f"a scale from {self.from_} to {self.most} has no range"
            raise ValueError(msg)

    @property
    def from_(self) -> Quantity:
        """The lowest torque it is used for: its first mark, but at least 20 % of the scale.

        ISO 6789 tests at 20 %, 60 % and 100 % of the scale; ISO 6789-1:2017 begins at the
        lowest marked value. Below 20 % as a rule of use: common practice, no source.
        """
        fifth = Quantity(self.most.value * _FIRST_FIFTH, self.most.unit)
        if self.least is None:
            return fifth
        least = self.least.to(self.most.unit)
        return least if least.value > fifth.value else fifth

    def covers(self, torque: Quantity) -> bool:
        """Whether the torque lies in the range that the wrench is used for, ends included.

        Raises:
            ValueError: it is no torque.
        """
        value = torque.to(self.most.unit).value
        return self.from_.value <= value <= self.most.value

    def shows(self, torque: Quantity) -> Quantity:
        """The torque in the wrench's own unit, exact.

        Raises:
            ValueError: it is no torque.
        """
        return torque.to(self.most.unit)


def tolerance(torque: Quantity) -> Fraction:
    """The largest deviation of a hand torque wrench as a share: 0.06 up to 10 N·m, 0.04 above.

    ISO 6789:2003 and 2017, setting tools with a scale.

    Raises:
        ValueError: it is no torque.
    """
    small = torque.to(_SMALL.unit).value <= _SMALL.value
    return Fraction(6, 100) if small else Fraction(4, 100)


def choose(wrenches: Iterable[TorqueWrench], torque: Quantity) -> tuple[TorqueWrench, ...]:
    """The wrenches that cover a torque, the smallest scale first: it shows the torque best.

    Raises:
        ValueError: it is no torque.
    """
    fitting = [wrench for wrench in wrenches if wrench.covers(torque)]
    return tuple(sorted(fitting, key=lambda w: (w.most.value * w.most.unit.factor, w.name)))
