"""Threads by their names; `test_stress` proves their diameters and pitches."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.threads import Thread


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
