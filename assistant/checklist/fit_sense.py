"""Whether the driver that a step names fits its fastener, and what looks alike in one job."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from assistant.checklist.figures import decimal, in_mm
from assistant.checklist.model import Fastener
from assistant.checklist.places import Place
from assistant.checklist.trade_words import TradeWords
from assistant.errors import Finding, Level
from assistant.trade.drivers import Drive, Driver, Fit, driver_in, fit, play
from assistant.trade.heads import best_fit, heads_for
from assistant.trade.quantity import Quantity
from assistant.trade.tables import Tables
from assistant.trade.threads import Thread

# Diameters that a hand takes for one another: 1/4 in and M6 differ by 5.6 %, 3/8 in and M10 by
# 4.8 %. Common practice, no source.
_ALIKE: Final = Fraction(6, 100)
_KINDS: Final = {
    Drive.EXTERNAL_HEX: "wrench or socket",
    Drive.INTERNAL_HEX: "hex key",
    Drive.HEXALOBULAR: "hexalobular bit",
    Drive.CROSS: "cross bit",
    Drive.SLOT: "flat screwdriver",
}


@dataclass(frozen=True, slots=True)
class _Turned:
    """A fastener of a step with what is known of it."""

    place: Place
    fastener: Fastener
    thread: Thread | None
    head: str | None
    driver: Driver | None


def thread_of(fastener: Fastener) -> Thread | None:
    """Its thread, None where none is written or what is written is none (told elsewhere)."""
    if fastener.thread is None:
        return None
    try:
        return Thread.parse(fastener.thread)
    except ValueError:
        return None


def fit_findings(places: Sequence[Place], tables: Tables, words: TradeWords) -> Iterator[Finding]:
    """Drivers that don't fit their heads, then look-alikes of inch and metric in one job."""
    turned = [
        _Turned(
            place,
            fastener,
            thread_of(fastener),
            words.heads.get((fastener.head or "").casefold()),
            driver_in(fastener.drive or "", words.drivers),
        )
        for place in places
        if (fastener := place.step.fastener) is not None
    ]
    for one in turned:
        yield from _driver_on_head(one, tables)
        yield from _driver_in_hand(one, words)
    yield from _alike(turned)


def _driver_on_head(one: _Turned, tables: Tables) -> Iterator[Finding]:
    """The drive that is written against the standards' heads; a special head is not compared."""
    if one.head is None or one.thread is None or one.driver is None or one.fastener.special:
        return
    rows = heads_for(tables.heads, one.head, one.thread)
    if not rows:
        return
    how, row = best_fit(one.driver, rows)
    if how is Fit.FITS:
        return
    belongs = f"{one.thread.size} {one.head} takes {_name(row.driver)} ({row.standard})"
    said = _said(one.driver, row.driver, how)
    message = f"{belongs}; {said}. Where the maker's head differs, say so in special"
    level: Level = "error" if row.verified else "warning"
    yield one.place.finding(level, _code(how), message, "fastener", "drive")


def _driver_in_hand(one: _Turned, words: TradeWords) -> Iterator[Finding]:
    """The step's own tool against the drive of its fastener."""
    tool = driver_in(one.place.step.driver or "", words.drivers)
    if tool is None or one.driver is None:
        return
    how = fit(tool, one.driver)
    if how is not Fit.FITS:
        said = _said(tool, one.driver, how)
        message = f"the fastener takes {_name(one.driver)}; {said}"
        yield one.place.error(_code(how), message, "driver")


def _code(how: Fit) -> str:
    return "driver-rounds-off" if how is Fit.NEAR else "driver-does-not-fit"


def _name(driver: Driver) -> str:
    """A driver as it is asked for: "a 6 mm hex key", "T27"."""
    if driver.number is not None:
        return f"T{driver.number}"
    kind = _KINDS[driver.drive]
    if driver.size is None:
        return f"a {kind}"
    article = "an" if re.match(r"8|11\b|18\b", str(driver.size)) else "a"
    return f"{article} {driver.size} {kind}"


def _said(driver: Driver, head: Driver, how: Fit) -> str:
    """What happens with this driver on that head, with the arithmetic."""
    if how is Fit.OTHER_KIND:
        return f"{_name(driver)} is another kind of driver"
    if driver.size is None or head.size is None:
        return f"T{driver.number} {_numbered(how)}"
    gap = play(driver.size, head.size, head.drive)
    sizes = f"{_with_mm(driver.size)} on {_with_mm(head.size)}"
    if how is Fit.NEAR and gap.value > 0:
        return f"{sizes} leaves {decimal(gap)} of play: it goes on and rounds the head off"
    missing = Quantity(abs(gap.value), gap.unit)
    if how is Fit.NEAR:
        return f"{sizes} is {decimal(missing)} too tight: pressed on, it rounds the head off"
    if how is Fit.LOOSE:
        return f"{sizes} leaves {decimal(gap)} of play: it slips round"
    return f"{sizes} is {decimal(missing)} too tight: it does not go on"


def _numbered(how: Fit) -> str:
    return "is too small and cams out" if how is Fit.LOOSE else "is too large to go in"


def _with_mm(size: Quantity) -> str:
    return str(size) if size.unit.symbol == "mm" else f"{size} ({decimal(in_mm(size))})"


# -- inch next to metric


def _alike(turned: Sequence[_Turned]) -> Iterator[Finding]:
    told: set[frozenset[str]] = set()
    for first, second in itertools.combinations(turned, 2):
        if not first.place.meets(second.place):
            continue
        for pair, message, code in _pairs(first, second):
            if pair not in told and not _mentioned(pair, first, second):
                told.add(pair)
                yield second.place.warning(code, message, "fastener")


def _pairs(first: _Turned, second: _Turned) -> Iterator[tuple[frozenset[str], str, str]]:
    """Pairs of things of these two fasteners that look alike, by what they are called."""
    if _threads_alike(first, second) and first.thread is not None and second.thread is not None:
        a, b = first.thread, second.thread
        message = (
            f'{b} looks like {a} of step "{first.place.step.step}": {_with_mm(b.diameter)} and '
            f"{_with_mm(a.diameter)} across, the same head and driver; say in both what tells "
            "them apart"
        )
        yield frozenset({str(a), str(b)}), message, "look-alike-threads"
        return
    if _drivers_alike(first.driver, second.driver):
        c, d = first.driver, second.driver
        if c is not None and d is not None and c.size is not None and d.size is not None:
            gap = Quantity(abs(in_mm(c.size).value - in_mm(d.size).value), in_mm(c.size).unit)
            message = (
                f"the {d.size} {d.tool} looks like the {c.size} {c.tool} of step "
                f'"{first.place.step.step}", {decimal(gap)} apart, and rounds its head off; say '
                "in both steps which one it is not"
            )
            yield frozenset({str(c.size), str(d.size)}), message, "look-alike-drivers"


def _threads_alike(first: _Turned, second: _Turned) -> bool:
    a, b = first.thread, second.thread
    if a is None or b is None or (a.series == "M") == (b.series == "M"):
        return False
    if first.head is None or first.head != second.head:
        return False
    one, other = in_mm(a.diameter).value, in_mm(b.diameter).value
    if abs(one - other) > _ALIKE * max(one, other):
        return False
    return _turned_alike(first.driver, second.driver)


def _turned_alike(a: Driver | None, b: Driver | None) -> bool:
    """Whether one driver turns both, well or badly; unknown ones may."""
    if a is None or b is None:
        return True
    return bool({fit(a, b), fit(b, a)} & {Fit.FITS, Fit.NEAR})


def _drivers_alike(a: Driver | None, b: Driver | None) -> bool:
    """Whether two drivers of one form, one inch and one metric, nearly fit each other's heads."""
    if a is None or b is None or a.size is None or b.size is None or a.tool != b.tool:
        return False
    if a.size.unit == b.size.unit:
        return False
    return Fit.NEAR in {fit(a, b), fit(b, a)}


def _mentioned(pair: frozenset[str], first: _Turned, second: _Turned) -> bool:
    """Whether the texts of either step name the other one's thing, so that the author saw it."""
    texts = f"{first.place.texts()} {second.place.texts()}".replace(" × ", "x").casefold()
    return any(one.replace(" × ", "x").casefold() in texts for one in pair)
