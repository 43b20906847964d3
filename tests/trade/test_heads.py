"""Heads and drivers against the standards' tables and an independent package's."""

from __future__ import annotations

import csv
import re
from fractions import Fraction
from pathlib import Path

import pytest

from assistant import packaged
from assistant.trade.drivers import Drive, Driver
from assistant.trade.heads import Head, best_fit, heads_for
from assistant.trade.quantity import Quantity, parse_number, unit_named
from assistant.trade.threads import Thread
from tests.trade.outside import outside, rows

TABLES = packaged.trade_tables()
SECOND_OPINION = Path(__file__).parent / "data" / "bd_warehouse"

# Thread, head, size, each with its standard. Read in published pages that show the standard.
PUBLISHED = {
    "ISO 4014, ISO 4017": [  # ISO 4014, ISO 4017 (widths of ISO 272:1982)
        ("M3", "hex", "5.5 mm"), ("M4", "hex", "7 mm"), ("M5", "hex", "8 mm"),
        ("M6", "hex", "10 mm"),
        ("M8", "hex", "13 mm"), ("M10", "hex", "16 mm"), ("M12", "hex", "18 mm"),
        ("M14", "hex", "21 mm"), ("M16", "hex", "24 mm"),
    ],
    "DIN 931, DIN 933": [  # DIN 931, DIN 933 before ISO 272:1982
        ("M10", "hex", "17 mm"), ("M12", "hex", "19 mm"), ("M14", "hex", "22 mm"),
    ],
    "JIS B 1189": [  # JIS B 1189 / ISO 15071, small series
        ("M5", "flange", "7 mm"), ("M6", "flange", "8 mm"), ("M8", "flange", "10 mm"),
        ("M10", "flange", "13 mm"), ("M12", "flange", "15 mm"), ("M14", "flange", "18 mm"),
    ],
    "ASME B18.2.1": [
        ("1/4-20", "hex", "7/16 in"), ("5/16-18", "hex", "1/2 in"), ("3/8-16", "hex", "9/16 in"),
        ("7/16-14", "hex", "5/8 in"), ("1/2-13", "hex", "3/4 in"),
    ],
    "ISO 4762": [
        ("M3", "socket cap", "2.5 mm"), ("M4", "socket cap", "3 mm"), ("M5", "socket cap", "4 mm"),
        ("M6", "socket cap", "5 mm"), ("M8", "socket cap", "6 mm"), ("M10", "socket cap", "8 mm"),
        ("M12", "socket cap", "10 mm"), ("M14", "socket cap", "12 mm"),
        ("M16", "socket cap", "14 mm"),
    ],
    "ISO 7380-1": [  # ISO 7380-1:2011
        ("M3", "button", "2 mm"), ("M4", "button", "2.5 mm"), ("M5", "button", "3 mm"),
        ("M6", "button", "4 mm"), ("M8", "button", "5 mm"), ("M10", "button", "6 mm"),
        ("M12", "button", "8 mm"),
    ],
    "ASME B18.3": [  # ASME B18.3 Table 3
        ("#4-40", "button", "1/16 in"), ("#6-32", "button", "5/64 in"),
        ("#8-32", "button", "3/32 in"),
        ("#10-24", "button", "1/8 in"), ("1/4-20", "button", "5/32 in"),
        ("5/16-18", "button", "3/16 in"), ("3/8-16", "button", "7/32 in"),
        ("7/16-14", "button", "1/4 in"), ("1/2-13", "button", "5/16 in"),
    ],
    "ASME B18.3, countersunk": [  # ASME B18.3 flat countersunk
        ("#4-40", "countersunk", "1/16 in"), ("#6-32", "countersunk", "5/64 in"),
        ("#8-32", "countersunk", "3/32 in"),
    ],
}  # fmt: skip


@pytest.mark.parametrize(
    ("thread", "head", "size"),
    [one for source, printed in PUBLISHED.items() for one in rows(source, printed)],
)
def test_sizes_are_those_of_the_standards(thread: str, head: str, size: str) -> None:
    """Each published width or socket is among the table's, in a row that was verified."""
    rows = heads_for(TABLES.heads, head, Thread.parse(thread))
    sizes = [str(row.size) for row in rows if row.verified]
    assert size in sizes


# Column of the package's table -> head here, and the standard our rows must name.
COLUMNS = [
    ("hex_head", "iso4014:s", "hex", "ISO 4014"), ("hex_head", "iso4017:s", "hex", "ISO 4014"),
    ("hex_head", "din931:s", "hex", "DIN 931"), ("hex_nut", "iso4032:s", "nut", "ISO 4032"),
    ("hex_head_with_flange", "din1665:s", "flange", "EN 1665"),
    ("hex_head_with_flange", "din1662:s", "flange", "JIS B 1189"),
    ("socket_head_cap", "iso4762:s", "socket cap", "ISO 4762"),
    ("socket_head_cap", "asme_b18.3:s", "socket cap", "ASME B18.3"),
    ("button_head", "iso7380_1:s", "button", "ISO 7380-1"),
    ("countersunk_head", "iso10642:s", "countersunk", "ISO 10642"),
    ("countersunk_head", "iso14581:recess", "countersunk", "ISO 14581"),
    ("countersunk_head", "iso14582:recess", "countersunk", "ISO 14581"),
    ("pan_head", "iso14583:recess", "pan", "ISO 14583"),
    ("cheese_head", "iso14580:recess", "cheese", "ISO 14580"),
    ("setscrew", "iso4026:s", "set screw", "ISO 4026"),
    ("imperial_set_screw", "Socket_Size", "set screw", "ASME B18.3"),
]  # fmt: skip
# Where the package and the standard differ, and what the standard has.
KNOWN_DISAGREEMENTS = {
    ("din1662:s", "M12"): "JIS B 1189 prints 15 mm for the small series, the package 16",
}
# The package keeps the largest socket the standard allows (ISO 7380-1, ISO 10642), not the nominal.
LARGEST = {"iso7380_1:s", "iso10642:s"}


def second_opinion(table: str, column: str) -> dict[str, str]:
    """A column of the package by size without pitch: "M8-1.25" is M8, "1/4-20" is 1/4."""
    with (SECOND_OPINION / f"{table}_parameters.csv").open(encoding="utf-8", newline="") as file:
        rows = [{key.strip(): value for key, value in row.items()} for row in csv.DictReader(file)]
    key = next(iter(rows[0]))
    return {row[key].rsplit("-", 1)[0]: row[column].strip() for row in rows if row[column].strip()}


def nominal(largest: str) -> Fraction:
    """The hex key that a socket of at most this width, in mm, is made for."""
    keys = {parse_number(text) for text in second_opinion("socket_head_cap", "iso4762:s").values()}
    return max(key for key in keys if key <= parse_number(largest))


def both_have(table: str, column: str, head: str, standard: str) -> list[tuple[Head, str]]:
    """Our rows of a column's standard, each with what the package has for its thread."""
    theirs = second_opinion(table, column)
    return [
        (row, theirs[row.thread])
        for row in TABLES.heads
        if row.head == head and row.standard.startswith(standard) and row.thread in theirs
    ]


PAIRS = [(column[1], *pair) for column in COLUMNS for pair in both_have(*column)]


@outside("package bd_warehouse")
@pytest.mark.parametrize(
    ("column", "row", "said"),
    [pair for pair in PAIRS if (pair[0], pair[1].thread) not in KNOWN_DISAGREEMENTS],
    ids=lambda one: getattr(one, "thread", None),
)
def test_sizes_are_those_of_an_independent_package(column: str, row: Head, said: str) -> None:
    """Package bd_warehouse 0.4.0, every size that both have."""
    assert agrees(column, row, said)


@pytest.mark.parametrize("column", COLUMNS)
def test_enough_sizes_of_a_column_are_compared(column: tuple[str, str, str, str]) -> None:
    """At least four of each; where the two are known to differ, they do."""
    pairs = both_have(*column)
    assert len(pairs) >= 4
    known = {thread for name, thread in KNOWN_DISAGREEMENTS if name == column[1]}
    differing = {row.thread for row, said in pairs if not agrees(column[1], row, said)}
    assert differing == known


def agrees(column: str, row: Head, said: str) -> bool:
    """Whether our size is the package's."""
    if said.startswith("T"):
        return row.number == int(said[1:])
    assert row.size is not None
    size = nominal(said) if column in LARGEST else parse_number(said)
    return size == row.size.value


def test_the_package_has_old_widths_for_thin_nuts() -> None:
    """Another known one: iso4035 holds 17, 19, 22 and 32 mm, the widths before ISO 272:1982."""
    thin = second_opinion("hex_nut", "iso4035:s")
    assert [thin[size] for size in ("M10", "M12", "M14", "M22")] == ["17", "19", "22", "32"]
    assert not any("4035" in row.standard for row in TABLES.heads)


@outside("package bd_warehouse", values=9)
def test_hexalobular_drives_are_those_of_the_standard() -> None:
    """ISO 10664 dimension A in mm, as package bd_warehouse has it; it skips drive 27."""
    with (SECOND_OPINION / "iso10664def.csv").open(encoding="utf-8", newline="") as file:
        theirs = {int(row["Size"][1:]): Fraction(row["A"]) for row in csv.DictReader(file)}
    ours = {number: size.value for number, size in TABLES.hexalobular.items()}
    assert len(theirs.keys() & ours.keys()) == 9
    assert {n: ours[n] for n in theirs.keys() & ours.keys()} == {
        n: theirs[n] for n in theirs.keys() & ours.keys()
    }
    assert ours.keys() - theirs.keys() == {27}


def test_button_heads_take_the_next_smaller_key() -> None:
    """ISO 4762, ISO 7380-1, ASME B18.3: M6 cap 5, button 4 mm; 1/4 in cap 3/16, button 5/32."""
    for thread in ("M3", "M4", "M5", "M6", "M8", "M10", "M12", "1/4-20", "5/16-18", "3/8-16"):
        size = Thread.parse(thread)
        cap, button = (
            next(row.size for row in heads_for(TABLES.heads, head, size) if row.size is not None)
            for head in ("socket cap", "button")
        )
        assert button.value < cap.value


@pytest.mark.parametrize(
    ("thread", "head", "driver", "fits"),
    [
        ("M10", "hex", "16 mm", "fits"), ("M10", "hex", "17 mm", "fits"),
        ("M10", "flange", "13 mm", "fits"), ("3/8-16", "hex", "14 mm", "not on"),
        ("M8", "hex", "1/2 in", "not on"), ("M6", "hex", "3/8 in", "not on"),
        ("M6", "hex", "7/16 in", "loose"), ("M10", "hex", "5/8 in", "near"),
        ("M10", "hex", "14 mm", "fits"), ("M10", "hex", "9/16 in", "not on"),
        ("7/16-14", "hex", "16 mm", "near"), ("M5", "flange", "5/16 in", "near"),
    ],
)  # fmt: skip
def test_the_standard_that_suits_best_is_taken(
    thread: str, head: str, driver: str, fits: str
) -> None:
    """Old and new widths both count; 5/8 in (15.875 mm) is pressed on 16 mm."""
    wrench = Driver(Drive.EXTERNAL_HEX, Quantity.parse(driver))
    fit, _ = best_fit(wrench, heads_for(TABLES.heads, head, Thread.parse(thread)))
    assert fit.value == fits


def test_every_row_tells_where_it_is_from() -> None:
    """No row without its source; rows from memory are marked and are the fewer."""
    assert all(row.source and row.standard for row in TABLES.heads)
    assert sum(row.verified for row in TABLES.heads) > len(TABLES.heads) * 0.7
    assert all(re.fullmatch(r"M\d+|#\d+|\d+/\d+", row.thread) for row in TABLES.heads)
    assert all(row.size.unit in {unit_named("mm"), unit_named("in")} for row in TABLES.heads
               if row.size is not None)  # fmt: skip
