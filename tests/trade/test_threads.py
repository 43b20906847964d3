"""Threads against the standards' own tables and formulas."""

from __future__ import annotations

import math
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.threads import Thread

# Tensile stress area as printed: ISO 898-1:2013 (mm²) and ASME B1.1 (in²). It follows from
# diameter and pitch, so it proves both: π/4 · (d − 0.9382 P)² and π/4 · (D − 0.9743/n)².
STRESS_AREAS = [
    ("M3", 5.03), ("M4", 8.78), ("M5", 14.2), ("M6", 20.1), ("M7", 28.9), ("M8", 36.6),
    ("M10", 58.0), ("M12", 84.3), ("M14", 115), ("M16", 157), ("M8 × 1", 39.2),
    ("M10 × 1", 64.5), ("M10 × 1.25", 61.2), ("M12 × 1.25", 92.1), ("M12 × 1.5", 88.1),
    ("M14 × 1.5", 125),
    ("#6-32 UNC", 0.00909), ("#6-40 UNF", 0.01015), ("#8-32 UNC", 0.0140), ("#8-36 UNF", 0.01474),
    ("#10-24 UNC", 0.0175), ("#10-32 UNF", 0.0200), ("1/4-20 UNC", 0.0318),
    ("1/4-28 UNF", 0.0364), ("5/16-18 UNC", 0.0524), ("5/16-24 UNF", 0.0580),
    ("3/8-16 UNC", 0.0775), ("3/8-24 UNF", 0.0878), ("7/16-14 UNC", 0.1063),
    ("7/16-20 UNF", 0.1187), ("1/2-13 UNC", 0.1419), ("1/2-20 UNF", 0.1599),
]  # fmt: skip


@pytest.mark.parametrize(("text", "area"), STRESS_AREAS)
def test_stress_areas_follow_from_diameter_and_pitch(text: str, area: float) -> None:
    """Every tabulated area comes out of our diameter and pitch, to the table's figures."""
    thread = Thread.parse(text)
    diameter, pitch = float(thread.diameter.value), float(thread.pitch.value)
    ours = math.pi / 4 * (diameter - 9 * math.sqrt(3) / 16 * pitch) ** 2
    if thread.series == "M":
        ours = math.pi / 4 * (diameter - 0.9382 * pitch) ** 2
    assert ours == pytest.approx(area, rel=0.005)


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        ("M8 × 1.25", "M8 × 1.25"),
        ("M8x1.25", "M8 × 1.25"),
        ("M8 x 1.0", "M8 × 1"),
        ("M6", "M6 × 1"),
        (" M9 × 1 ", "M9 × 1"),
        ("3/8-16 UNC", "3/8-16 UNC"),
        ("3/8-24", "3/8-24 UNF"),
        ("3/8-20", "3/8-20"),
        ("#10-32 UNF", "#10-32 UNF"),
        ("1-8 UNC", "1-8 UNC"),
        ("1 1/4-7 UNC", "1 1/4-7 UNC"),
        ("1/2-28 UNEF", "1/2-28 UNEF"),
    ],
)
def test_designations_are_read_and_written(text: str, canonical: str) -> None:
    """Ways that authors write one thread come out as one."""
    assert str(Thread.parse(text)) == canonical


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is not a thread"),
        ("8 × 1.25", "is not a thread"),
        ("m8", "is not a thread"),
        ("M8 × 1.2", "the pitches 1.25, 1, 0.75"),
        ("M8 × 1.5", "the pitches 1.25, 1, 0.75"),
        ("M9", "names no pitch"),
        ("M9 × 5", "too coarse"),
        ("M0 × 0", "too coarse"),
        ("3/8-20 UNC", "gives 3/8 UNC 16 threads per inch"),
        ("3/8-16 UNF", "gives 3/8 UNF 24 threads per inch"),
        ("3/0-16", "is not a thread"),
        ("0/4-20", "too coarse"),
        ("3/8-0", "is not a thread"),
        ("#11-32", "has no size #11"),
        ("M" + "9" * 5000, "is not a thread"),
    ],
)
def test_what_is_no_thread_is_refused(text: str, said: str) -> None:
    """The message says what the standard has instead."""
    with pytest.raises(ValueError, match=said) as error:
        Thread.parse(text)
    assert len(str(error.value)) < 200


def test_numbered_sizes_have_their_diameter() -> None:
    """ASME B1.1: 0.060 in plus 0.013 in a number, so #10 is 0.190 in."""
    assert Thread.parse("#10-32 UNF").diameter.value == Fraction("0.190")
    assert Thread.parse("#10-32 UNF").threads_per_inch == 32


@given(st.text(max_size=60))
def test_any_text_is_a_thread_or_a_value_error(text: str) -> None:
    """Nothing else is ever raised, and what is read is read again from its own name."""
    try:
        thread = Thread.parse(text)
    except ValueError:
        return
    assert Thread.parse(str(thread)) == thread
