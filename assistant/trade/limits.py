"""Limits of a reading, and by how much a value keeps or misses them. Exact, in any unit."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction
from typing import Self

from assistant.trade.quantity import Quantity


class Standing(Enum):
    """Where a value lies."""

    BELOW = "below"
    WITHIN = "within"
    ABOVE = "above"


@dataclass(frozen=True, slots=True)
class Verdict:
    """How a value stands to its limits.

    Attributes:
        standing: below, within (limits included) or above.
        limit: the nearest limit, or the one that is missed; None without limits.
        margin: distance to it, never negative, in the limit's unit; None without limits.
    """

    standing: Standing
    limit: Quantity | None = None
    margin: Quantity | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """The lowest and the highest value that pass; None leaves a side open."""

    at_least: Quantity | None = None
    at_most: Quantity | None = None

    @classmethod
    def around(cls, nominal: Quantity, share: Fraction) -> Self:
        """Limits a share above and below a nominal value: 0.04 is ±4 %.

        Raises:
            ValueError: a negative share.
        """
        if share < 0:
            msg = "a tolerance is not below nothing"
            raise ValueError(msg)
        width = abs(nominal.value) * share
        return cls(
            Quantity(nominal.value - width, nominal.unit),
            Quantity(nominal.value + width, nominal.unit),
        )

    @classmethod
    def deviating(cls, nominal: Quantity, minus: Quantity, plus: Quantity) -> Self:
        """Limits from a nominal value and its deviations: 20 mm, 1 mm down, 2 mm up.

        Raises:
            ValueError: a deviation of another kind, or below nothing.
        """
        down, up = minus.to(nominal.unit).value, plus.to(nominal.unit).value
        if down < 0 or up < 0:
            msg = "a deviation is told without a sign, for each side"
            raise ValueError(msg)
        return cls(
            Quantity(nominal.value - down, nominal.unit), Quantity(nominal.value + up, nominal.unit)
        )

    def judge(self, value: Quantity) -> Verdict:
        """How a value stands, compared exactly across units.

        Raises:
            ValueError: the value measures something else than the limits.
        """
        low, high = self.at_least, self.at_most
        if low is not None and (missing := low.value - value.to(low.unit).value) > 0:
            return Verdict(Standing.BELOW, low, Quantity(missing, low.unit))
        if high is not None and (beyond := value.to(high.unit).value - high.value) > 0:
            return Verdict(Standing.ABOVE, high, Quantity(beyond, high.unit))
        distances = [
            (limit, Quantity(abs(value.to(limit.unit).value - limit.value), limit.unit))
            for limit in (low, high)
            if limit is not None
        ]
        if not distances:
            return Verdict(Standing.WITHIN)
        limit, margin = min(distances, key=lambda pair: pair[1].value * pair[1].unit.factor)
        return Verdict(Standing.WITHIN, limit, margin)
