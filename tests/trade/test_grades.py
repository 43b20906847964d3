"""Grades and classes against the standards' printed stresses and proof loads."""

from __future__ import annotations

import pytest

from assistant import packaged
from assistant.trade.grades import grade_for, named, strongest
from assistant.trade.threads import Thread
from assistant.trade.torque import proof_load
from tests.trade.outside import outside, rows

TABLES = packaged.trade_tables()
# ISO 898-1:2013 Table 3, in MPa: class, thread, proof stress, yield, tensile.
ISO_898_1 = [
    ("4.6", "M8", 225, 240, 400), ("4.8", "M8", 310, 340, 420), ("5.6", "M8", 280, 300, 500),
    ("5.8", "M8", 380, 420, 520), ("6.8", "M8", 440, 480, 600), ("8.8", "M16", 580, 640, 800),
    ("8.8", "M18", 600, 660, 830), ("9.8", "M8", 650, 720, 900), ("10.9", "M8", 830, 940, 1040),
    ("12.9", "M8", 970, 1100, 1220),
]  # fmt: skip
# SAE J429 mechanical requirements, in psi.
SAE_J429 = [
    ("SAE grade 1", "1/4-20 UNC", 33_000, 36_000, 60_000),
    ("SAE grade 2", "3/4-10 UNC", 55_000, 57_000, 74_000),
    ("SAE grade 2", "7/8-9 UNC", 33_000, 36_000, 60_000),
    ("SAE grade 5", "1-8 UNC", 85_000, 92_000, 120_000),
    ("SAE grade 5", "1 1/4-7 UNC", 74_000, 81_000, 105_000),
    ("SAE grade 8", "3/8-16 UNC", 120_000, 130_000, 150_000),
]
# ISO 898-1:2013 proof-load table, coarse pitch, in N, as a page that reproduces it prints it; a
# class that the standard doesn't make in a size has no load.
CLASSES = ("4.6", "4.8", "5.6", "5.8", "6.8", "8.8", "9.8", "10.9", "12.9")
PROOF_TABLE = """\
M3 1130 1560 1410 1910 2210 2920 3270 4180 4880
M3.5 1530 2100 1900 2580 2980 3940 4410 5630 6580
M4 1980 2720 2460 3340 3860 5100 5710 7290 8520
M5 3200 4400 3980 5400 6250 8230 9230 11800 13800
M6 4520 6230 5630 7640 8840 11600 13100 16700 19500
M7 6500 8960 8090 11000 12700 16800 18800 24000 28000
M8 8240 11400 10200 13900 16100 21200 23800 30400 35500
M10 13000 18000 16200 22000 25500 33700 37700 48100 56300
M12 19000 26100 23600 32000 37100 48900 54800 70000 81800
M14 25900 35600 32200 43700 50600 66700 74800 95500 112000
M16 35300 48700 44000 59700 69100 91000 102000 130000 152000
M18 43200 59500 53800 73000 84500 115000 - 159000 186000
M20 55100 76000 68600 93100 108000 147000 - 203000 238000
M22 68200 93900 84800 115000 133000 182000 - 252000 294000
M24 79400 109000 98800 134000 155000 212000 - 293000 342000
"""
PROOF_LOADS = [
    (row.split()[0], name, int(load))
    for row in PROOF_TABLE.splitlines()
    for name, load in zip(CLASSES, row.split()[1:], strict=True)
    if load != "-"
]


@pytest.mark.parametrize(
    ("name", "thread", "proof", "yields", "tensile"),
    [*rows("ISO 898-1", ISO_898_1, values=3), *rows("SAE J429", SAE_J429, values=3)],
)
def test_stresses_are_those_of_the_standards(
    name: str, thread: str, proof: int, yields: int, tensile: int
) -> None:
    """Proof, yield and tensile, in the row that holds for the diameter."""
    grade = grade_for(named(TABLES.grades, name), Thread.parse(thread))
    assert grade is not None
    assert grade.proof is not None
    assert [grade.proof.value, grade.yields.value, grade.tensile.value] == [proof, yields, tensile]
    assert grade.verified


@outside("ISO 3506-1", values=2)
@pytest.mark.parametrize(
    ("name", "yields", "tensile"), [("A2-50", 210, 500), ("A2-70", 450, 700), ("A2-80", 600, 800)]
)
def test_stainless_has_no_proof_stress(name: str, yields: int, tensile: int) -> None:
    """ISO 3506-1: the 0.2 % stress bears instead, in MPa."""
    grade = grade_for(named(TABLES.grades, name), Thread.parse("M8"))
    assert grade is not None
    assert grade.proof is None
    assert [grade.bears.value, grade.tensile.value] == [yields, tensile]


@outside("ISO 898-1")
@pytest.mark.parametrize(("thread", "name", "newtons"), PROOF_LOADS)
def test_proof_loads_are_those_of_the_standard(thread: str, name: str, newtons: int) -> None:
    """ISO 898-1:2013 prints area times stress, rounded: within half a percent."""
    size = Thread.parse(thread)
    grade = grade_for(named(TABLES.grades, name), size)
    assert grade is not None
    load = proof_load(size, grade, TABLES.stress_areas)
    assert float(load.value) == pytest.approx(newtons, rel=0.005)
    assert load.unit.symbol == "N"


@pytest.mark.parametrize("name", ["4.6", "4.8", "5.6", "5.8", "6.8", "8.8", "9.8", "10.9", "12.9"])
def test_a_class_s_name_tells_its_strength(name: str) -> None:
    """ISO 898-1 clause 5: first figure · 100 tensile, second · 10 % of it yield.

    The least values that Table 3 prints are as high as that, and at most 7 % higher.
    """
    grade = grade_for(named(TABLES.grades, name), Thread.parse("M8"))
    assert grade is not None
    first, second = (int(part) for part in name.split("."))
    assert 1 <= grade.tensile.value / (first * 100) <= 1.07
    assert 1 <= grade.yields.value / (first * second * 10) <= 1.07


@pytest.mark.parametrize(
    ("text", "label"),
    [
        ("8.8", "class 8.8"),
        ("class 10.9", "class 10.9"),
        ("property class 12.9", "class 12.9"),
        ("grade 5", "SAE grade 5"),
        ("SAE J429 grade 8", "SAE grade 8"),
        ("a2-70", "A2-70"),
        ("08.8", "class 08.8"),
    ],
)
def test_grades_are_read_as_they_are_written(text: str, label: str) -> None:
    """As on the head, as in a parts list, as spoken."""
    assert named(TABLES.grades, text)[0].label == label


@pytest.mark.parametrize("text", ["", "88", "8.9", "grade 7", "A2", "hard", "8.8.8"])
def test_what_is_no_grade_is_refused(text: str) -> None:
    """The message says how one is written."""
    with pytest.raises(ValueError, match=r"is no grade known here; write it like 8\.8"):
        named(TABLES.grades, text)


@outside("ISO 7380-2")
def test_a_leading_zero_bears_less() -> None:
    """ISO 7380-2:2022: a head with reduced loadability carries 80 % of what the thread does."""
    thread = Thread.parse("M6")
    full, less = (grade_for(named(TABLES.grades, n), thread) for n in ("8.8", "08.8"))
    assert full is not None
    assert less is not None
    assert less.bears.value == full.bears.value * 8 / 10
    assert less.tensile.value == full.tensile.value * 8 / 10


def test_no_grade_is_made_up_for_a_size_that_the_standard_leaves_out() -> None:
    """ISO 898-1 has no 9.8 above 16 mm."""
    assert grade_for(named(TABLES.grades, "9.8"), Thread.parse("M18")) is None


def test_no_grade_holds_for_threads_of_the_other_system() -> None:
    """SAE J429 is about inch threads, ISO 898-1 about metric ones."""
    assert grade_for(named(TABLES.grades, "SAE grade 5"), Thread.parse("M8")) is None
    assert grade_for(named(TABLES.grades, "8.8"), Thread.parse("3/8-16")) is None


def test_the_strongest_grades() -> None:
    """12.9 of ISO 898-1 and grade 8 of SAE J429."""
    assert strongest(TABLES.grades, Thread.parse("M8")).label == "class 12.9"
    assert strongest(TABLES.grades, Thread.parse("3/8-16")).label == "SAE grade 8"
