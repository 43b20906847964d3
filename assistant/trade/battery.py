"""Battery voltage at rest and on charge: a band of charge, never one figure.

Published tables differ by 0.05 to 0.1 V, and a meter of 1 % reads 12 V to ±0.12 V. The
figure for the machine always wins.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from assistant.trade.limits import Limits, Verdict
from assistant.trade.quantity import Quantity, unit_named

_VOLT = unit_named("V")


@dataclass(frozen=True, slots=True)
class RestPoint:
    """One row of a table of open-circuit voltage at rest for a 12 V battery.

    Attributes:
        table: which published table it belongs to.
        battery: flooded or glass mat.
        percent: state of charge.
        volts: open-circuit voltage, after hours of rest or a short load and minutes of rest.
        verified: False for a row from memory.
    """

    table: str
    battery: str
    percent: Fraction
    volts: Quantity
    verified: bool


@dataclass(frozen=True, slots=True)
class Window:
    """Voltage at the battery with the engine running."""

    battery: str
    least: Quantity
    most: Quantity


@dataclass(frozen=True, slots=True)
class ChargeBand:
    """State of charge, in percent, as the lowest and the highest table has it."""

    low: Fraction
    high: Fraction


def charge_at_rest(volts: Quantity, points: Iterable[RestPoint], battery: str) -> ChargeBand:
    """State of charge of a rested 12 V battery, as a band over all tables for its kind.

    Between the rows of a table it is interpolated straight; beyond its ends it is the end.

    Raises:
        ValueError: no table for this kind, or a quantity that is no voltage.
    """
    value = volts.to(_VOLT).value
    tables: dict[str, list[RestPoint]] = {}
    for point in points:
        if point.battery == battery:
            tables.setdefault(point.table, []).append(point)
    if not tables:
        msg = f'there is no table of resting voltage for "{battery}"'
        raise ValueError(msg)
    shares = [_interpolated(value, rows) for rows in tables.values()]
    return ChargeBand(min(shares), max(shares))


def _interpolated(value: Fraction, rows: list[RestPoint]) -> Fraction:
    steps = sorted((row.volts.value, row.percent) for row in rows)
    if value <= steps[0][0]:
        return steps[0][1]
    for (low, less), (high, more) in pairwise(steps):
        if value <= high:
            return less + (value - low) / (high - low) * (more - less)
    return steps[-1][1]


def charging(volts: Quantity, windows: Iterable[Window], battery: str) -> Verdict:
    """How a charging voltage stands to the window for this kind of battery.

    Raises:
        ValueError: no window for this kind, or a quantity that is no voltage.
    """
    for window in windows:
        if window.battery == battery:
            return Limits(window.least, window.most).judge(volts)
    msg = f'there is no charging window for "{battery}"'
    raise ValueError(msg)
