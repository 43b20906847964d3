"""Stress areas against the standards' printed tables and an independent package."""

from __future__ import annotations

import pytest
from screw_thread_lib import Assembly
from screw_thread_lib.data import ASME_M_6g6H_dict, ASME_UN_2A2B_dict

from assistant import packaged
from assistant.trade.stress import computed_area, stress_area
from assistant.trade.threads import Thread
from assistant.trade.units import SQUARE_INCH, SQUARE_MM
from tests.trade.outside import FROM_MEMORY, outside, rows

# Tensile stress area as printed, in mm²: ISO 898-1:2013, coarse.
ISO_898_1 = [
    ("M3", 5.03), ("M3.5", 6.78), ("M4", 8.78), ("M5", 14.2), ("M6", 20.1), ("M7", 28.9),
    ("M8", 36.6), ("M10", 58.0), ("M12", 84.3), ("M14", 115), ("M16", 157), ("M18", 192),
    ("M20", 245), ("M22", 303), ("M24", 353),
]  # fmt: skip
# ISO 898-1:2013, fine pitch. From memory, so screw-thread-lib or the formula decides with them.
ISO_898_1_FINE = [
    ("M8 × 1", 39.2), ("M10 × 1", 64.5), ("M10 × 1.25", 61.2), ("M12 × 1.25", 92.1),
    ("M12 × 1.5", 88.1), ("M14 × 1.5", 125),
]  # fmt: skip
# Tensile stress area as printed, in in²: ASME B1.1.
ASME_B1_1 = [
    ("#6-32 UNC", 0.00909), ("#6-40 UNF", 0.01015), ("#8-32 UNC", 0.0140), ("#8-36 UNF", 0.01474),
    ("#10-24 UNC", 0.0175), ("#10-32 UNF", 0.0200), ("1/4-20 UNC", 0.0318),
    ("1/4-28 UNF", 0.0364), ("5/16-18 UNC", 0.0524), ("5/16-24 UNF", 0.0580),
    ("3/8-16 UNC", 0.0775), ("3/8-24 UNF", 0.0878), ("7/16-14 UNC", 0.1063),
    ("7/16-20 UNF", 0.1187), ("1/2-13 UNC", 0.1419), ("1/2-20 UNF", 0.1599),
]  # fmt: skip
PRINTED_AREAS = [
    *rows("ISO 898-1", ISO_898_1),
    *rows(FROM_MEMORY, ISO_898_1_FINE),
    *rows("ASME B1.1", ASME_B1_1),
]
PRINTED = packaged.trade_tables().stress_areas


@pytest.mark.parametrize(("text", "area"), PRINTED_AREAS)
def test_areas_follow_from_diameter_and_pitch(text: str, area: float) -> None:
    """Every printed area comes out of the formula, within half a percent of its rounding."""
    thread = Thread.parse(text)
    assert float(computed_area(thread).value) == pytest.approx(area, rel=0.005)


@pytest.mark.parametrize(("text", "area"), ISO_898_1 + ISO_898_1_FINE + ASME_B1_1)
def test_the_printed_area_is_used_where_there_is_one(text: str, area: float) -> None:
    """Loads are worked out from the printed figure, as the standards do."""
    thread = Thread.parse(text)
    ours = stress_area(thread, PRINTED)
    assert float(ours.value) == area
    assert ours.unit == (SQUARE_MM if thread.series == "M" else SQUARE_INCH)


@outside("package screw-thread-lib")
@pytest.mark.parametrize("name", sorted(ASME_UN_2A2B_dict))
def test_inch_areas_are_those_of_an_independent_package(name: str) -> None:
    """Package screw-thread-lib, FED-STD-H28/2B (1b): all its sizes, to 0.01 %.

    The standard rounds the constant 0.974279 to 0.9743, the package doesn't.
    """
    theirs = Assembly.from_database("ASME_UN_2A2B", name).As_FEDSTD_1b()
    thread = Thread.parse(f"#{name}" if name.startswith("10-") else name)
    assert float(computed_area(thread).value) == pytest.approx(theirs, rel=1e-4)


@outside("package screw-thread-lib")
@pytest.mark.parametrize("text", [text for text, _ in ISO_898_1 + ISO_898_1_FINE])
def test_metric_areas_are_those_of_an_independent_package(text: str) -> None:
    """Package screw-thread-lib, ISO/TR 16224: π/4 · ((d2 + d3) / 2)², which needs no constant."""
    thread = Thread.parse(text)
    pitch, diameter = float(thread.pitch.value), float(thread.diameter.value)
    theirs = Assembly({"n": 1 / pitch, "dbsc": diameter}).As_ISO()  # one unit throughout: mm
    assert float(computed_area(thread).value) == pytest.approx(theirs, rel=1e-4)


@outside("package screw-thread-lib")
@pytest.mark.parametrize("name", sorted(ASME_M_6g6H_dict))
def test_metric_threads_are_those_of_an_independent_package(name: str) -> None:
    """Its own M8, M12, M20 and M24, kept in inches: the area in mm² is the same."""
    theirs = Assembly.from_database("ASME_M_6g6H", name).As_ISO()
    ours = computed_area(Thread.parse(name.replace("-", " × "))).to(SQUARE_INCH)
    assert float(ours.value) == pytest.approx(theirs, rel=1e-4)


def test_a_thread_without_a_printed_area_has_the_computed_one() -> None:
    """M9 × 1 stands in no table here."""
    thread = Thread.parse("M9 × 1")
    assert stress_area(thread, PRINTED) == computed_area(thread)
