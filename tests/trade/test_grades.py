"""Grades and classes against the standards' printed stresses and proof loads."""

from __future__ import annotations

import pytest

from assistant import packaged
from assistant.trade.grades import grade_for, named, strongest
from assistant.trade.threads import Thread
from assistant.trade.torque import proof_load

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
# ISO 898-1:2013 proof-load table, coarse pitch, in N.
PROOF_LOADS = [
    ("M6", "8.8", 11_600), ("M8", "8.8", 21_200), ("M10", "8.8", 33_700), ("M12", "8.8", 48_900),
    ("M14", "8.8", 66_700), ("M6", "10.9", 16_700), ("M8", "10.9", 30_400),
    ("M10", "10.9", 48_100), ("M6", "12.9", 19_500), ("M8", "12.9", 35_500),
    ("M10", "12.9", 56_300),
]  # fmt: skip


@pytest.mark.parametrize(("name", "thread", "proof", "yields", "tensile"), ISO_898_1 + SAE_J429)
def test_stresses_are_those_of_the_standards(
    name: str, thread: str, proof: int, yields: int, tensile: int
) -> None:
    """Proof, yield and tensile, in the row that holds for the diameter."""
    grade = grade_for(named(TABLES.grades, name), Thread.parse(thread))
    assert grade is not None
    assert grade.proof is not None
    assert [grade.proof.value, grade.yields.value, grade.tensile.value] == [proof, yields, tensile]
    assert grade.verified


@pytest.mark.parametrize(
    ("name", "yields", "tensile"), [("A2-50", 210, 500), ("A2-70", 450, 700), ("A2-80", 600, 800)]
)
def test_stainless_has_no_proof_stress(name: str, yields: int, tensile: int) -> None:
    """ISO 3506-1: the 0.2 % stress bears instead, in MPa."""
    grade = grade_for(named(TABLES.grades, name), Thread.parse("M8"))
    assert grade is not None
    assert grade.proof is None
    assert [grade.bears.value, grade.tensile.value] == [yields, tensile]


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


def test_a_leading_zero_bears_less() -> None:
    """ISO 898-1 marks heads that can't carry the full load so; how much less is from memory."""
    thread = Thread.parse("M6")
    full, less = (grade_for(named(TABLES.grades, n), thread) for n in ("8.8", "08.8"))
    assert full is not None
    assert less is not None
    assert less.bears.value < full.bears.value
    assert not less.verified


def test_no_grade_holds_for_threads_of_the_other_system() -> None:
    """SAE J429 is about inch threads, ISO 898-1 about metric ones."""
    assert grade_for(named(TABLES.grades, "SAE grade 5"), Thread.parse("M8")) is None
    assert grade_for(named(TABLES.grades, "8.8"), Thread.parse("3/8-16")) is None


def test_the_strongest_grades() -> None:
    """12.9 of ISO 898-1 and grade 8 of SAE J429."""
    assert strongest(TABLES.grades, Thread.parse("M8")).label == "class 12.9"
    assert strongest(TABLES.grades, Thread.parse("3/8-16")).label == "SAE grade 8"
