"""Heads by standard: which driver a head of a thread takes (ISO, DIN, JIS, EN, ASME)."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from assistant.trade.drivers import Drive, Driver, Fit, fit, play
from assistant.trade.quantity import Quantity
from assistant.trade.threads import Thread


@dataclass(frozen=True, slots=True)
class Head:
    """One row: a head of one size in one standard.

    Attributes:
        head: hex, flange, nut, socket cap, button, countersunk, set screw, pan, cheese.
        standard: ISO 4014 / ISO 4017, JIS B 1189, ASME B18.3 …
        thread: the size without its pitch: "M6", "1/4", "#10".
        drive: what turns it.
        size: across flats, or of the socket; None for hexalobular.
        number: hexalobular drive number; else None.
        verified: False for a row from memory.
    """

    head: str
    standard: str
    thread: str
    drive: Drive
    size: Quantity | None
    number: int | None
    source: str
    verified: bool

    @property
    def driver(self) -> Driver:
        """The driver that belongs to it."""
        return Driver(self.drive, self.size, self.number)


def heads_for(heads: Iterable[Head], head: str, thread: Thread) -> tuple[Head, ...]:
    """Every row of a head on this thread's size; several standards may differ.

    Args:
        heads: the table.
        head: its name as the table has it.
        thread: the thread.
    """
    return tuple(row for row in heads if row.head == head and row.thread == thread.size)


def best_fit(driver: Driver, rows: Sequence[Head]) -> tuple[Fit, Head]:
    """How the driver sits on the head that it suits best among these.

    A row from memory may only say that a driver fits; it says that one doesn't only where no
    verified row has the same kind of drive.

    Args:
        driver: the driver.
        rows: heads of one form and thread, at least one.

    Raises:
        ValueError: no rows.
    """
    same = [row for row in rows if row.drive is driver.drive]
    if not same:
        return Fit.OTHER_KIND, min(rows, key=lambda row: not row.verified)
    candidates = [row for row in same if row.verified or fit(driver, row.driver) is Fit.FITS]
    nearest = min(candidates or same, key=lambda row: _distance(driver, row))
    return fit(driver, nearest.driver), nearest


def _distance(driver: Driver, row: Head) -> tuple[Fraction, bool]:
    """How far the driver's size is from the head's, in mm or drive numbers; verified rows first."""
    if driver.number is not None and row.number is not None:
        return Fraction(abs(driver.number - row.number)), not row.verified
    if driver.size is not None and row.size is not None:
        return abs(play(driver.size, row.size, row.drive).value), not row.verified
    return Fraction(0), not row.verified
