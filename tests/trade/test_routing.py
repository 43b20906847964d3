"""Line lengths against geometry that can be checked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.quantity import Quantity
from assistant.trade.routing import (
    Point,
    SteeringAxis,
    extra_for_taller_bar,
    length_at_lock,
    routed_length,
    slack_at_lock,
)


def at(x: float, y: float, z: float, *, turns: bool = False) -> Point:
    """A point in mm."""
    a, b, c = (Quantity.parse(f"{v} mm") for v in (x, y, z))
    return Point(a, b, c, turns=turns)


UPRIGHT = SteeringAxis(at(0, 0, 0), Quantity.parse("0°"))


@pytest.mark.parametrize(
    ("points", "length"),
    [
        ([(0, 0, 0), (3, 4, 0)], "5 mm"),  # Euclid: 3, 4, 5
        ([(0, 0, 0), (1, 2, 2)], "3 mm"),  # 1² + 2² + 2² = 3²
        ([(0, 0, 0), (2, 3, 6), (2, 3, 26)], "27 mm"),  # 2² + 3² + 6² = 7², then straight up
        ([(0, 0, 0), (1, 1, 0)], "1.41 mm"),
    ],
)
def test_lengths_by_hand(points: list[tuple[int, int, int]], length: str) -> None:
    """Whole-number right triangles and boxes."""
    assert routed_length([at(*p) for p in points]) == Quantity.parse(length)


def test_a_taller_bar_on_a_straight_line() -> None:
    """Straight up from the clamp: 60 mm of riser needs 60 mm of line, less when it hangs aslant."""
    up, back = Quantity.parse("60 mm"), Quantity.parse("0 mm")
    straight = [at(0, 0, 0), at(0, 0, 500, turns=True)]
    assert extra_for_taller_bar(straight, up, back) == Quantity.parse("60 mm")
    aslant = [at(0, 0, 0), at(300, 0, 400, turns=True)]  # 500 mm; then √(300² + 460²) = 549.18
    assert extra_for_taller_bar(aslant, up, back) == Quantity.parse("49.18 mm")


def test_a_quarter_turn_by_hand() -> None:
    """A point 100 mm to the left goes 100 mm back when the bar turns left by 90°."""
    line = [at(-100, 0, 0), at(0, 100, 0, turns=True)]
    assert length_at_lock(line, UPRIGHT, Quantity.parse("90°")) == Quantity.parse("0 mm")
    assert length_at_lock(line, UPRIGHT, Quantity.parse("-90°")) == Quantity.parse("200 mm")
    assert slack_at_lock(Quantity.parse("220 mm"), line, UPRIGHT, Quantity.parse("90°")) == (
        Quantity.parse("20 mm")
    )


coordinate = st.integers(-500, 500)
places = st.tuples(coordinate, coordinate, coordinate)


@given(places, places, st.integers(-60, 60), st.integers(0, 35))
def test_turning_is_that_of_a_rotation_matrix(
    fixed: tuple[int, int, int], moving: tuple[int, int, int], lock: int, rake: int
) -> None:
    """The rake is undone, the bar turned about the vertical, the rake done: numpy's matrices."""
    tilt, turn = math.radians(rake), math.radians(lock)
    c, s = math.cos(tilt), math.sin(tilt)
    lean = np.array([[c, 0, -s], [0, 1, 0], [s, 0, c]])
    c, s = math.cos(turn), math.sin(turn)
    spin = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    there = lean @ spin @ lean.T @ np.array(moving, dtype=float)
    expected = float(np.linalg.norm(there - np.array(fixed, dtype=float)))
    axis = SteeringAxis(at(0, 0, 0), Quantity.parse(f"{rake}°"))
    ours = length_at_lock([at(*fixed), at(*moving, turns=True)], axis, Quantity.parse(f"{lock}°"))
    assert float(ours.value) == pytest.approx(expected, abs=0.006)


def test_what_can_not_be_is_refused() -> None:
    """One point is no routing; a bar that nothing hangs on adds nothing."""
    with pytest.raises(ValueError, match="at least two points"):
        routed_length([at(0, 0, 0)])
    with pytest.raises(ValueError, match="at least two points"):
        length_at_lock([], UPRIGHT, Quantity.parse("30°"))
    with pytest.raises(ValueError, match="turns with the bar"):
        extra_for_taller_bar([at(0, 0, 0), at(1, 0, 0)], *(Quantity.parse("1 mm"),) * 2)
    angle = Quantity.parse("3°")
    with pytest.raises(ValueError, match="is an angle"):
        slack_at_lock(angle, [at(0, 0, 0), at(1, 0, 0)], UPRIGHT, angle)
