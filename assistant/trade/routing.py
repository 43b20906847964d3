"""Lines and cables: length along their routing, what a taller bar adds, slack at full lock.

Geometry only (Euclid; Rodrigues' rotation formula). A line hangs in curves, never in straight
pieces from clip to clip, so what comes out here is the least that it needs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Final

from assistant.trade.quantity import Quantity, unit_named

_MM: Final = unit_named("mm")
_DEGREE: Final = unit_named("°")
_Vector = tuple[float, float, float]


@dataclass(frozen=True, slots=True)
class Point:
    """A place that the line passes, from any origin: x forward, y left, z up.

    Attributes:
        turns: whether it turns with the handlebar.
    """

    x: Quantity
    y: Quantity
    z: Quantity
    turns: bool = False

    def in_mm(self) -> _Vector:
        """Its coordinates in mm.

        Raises:
            ValueError: one of them is no length.
        """
        x, y, z = (float(one.to(_MM).value) for one in (self.x, self.y, self.z))
        return x, y, z

    def raised(self, up: Quantity, back: Quantity) -> Point:
        """The point after the bar has gone up and back by this much.

        Raises:
            ValueError: a quantity that is no length.
        """
        x = Quantity(self.x.to(_MM).value - back.to(_MM).value, _MM)
        z = Quantity(self.z.to(_MM).value + up.to(_MM).value, _MM)
        return Point(x, self.y, z, self.turns)


@dataclass(frozen=True, slots=True)
class SteeringAxis:
    """The axis that the handlebar turns about: a point on it and a rake from the vertical.

    Attributes:
        through: a point on the axis.
        rake: angle from the vertical, leaning back at the top.
    """

    through: Point
    rake: Quantity


def routed_length(points: Sequence[Point]) -> Quantity:
    """Length from point to point, in mm, to the hundredth.

    Raises:
        ValueError: fewer than two points, or a coordinate that is no length.
    """
    if len(points) < 2:
        msg = "a routing has at least two points"
        raise ValueError(msg)
    return _rounded(_length([point.in_mm() for point in points]))


def extra_for_taller_bar(points: Sequence[Point], up: Quantity, back: Quantity) -> Quantity:
    """How much longer the routing gets when the points that turn go up and back, in mm.

    Raises:
        ValueError: as `routed_length`, or none of the points turns with the bar.
    """
    if not any(point.turns for point in points):
        msg = "no point of the routing turns with the bar, so a taller one changes nothing"
        raise ValueError(msg)
    raised = [point.raised(up, back) if point.turns else point for point in points]
    before, after = routed_length(points), routed_length(raised)
    return Quantity(after.value - before.value, _MM)


def length_at_lock(points: Sequence[Point], axis: SteeringAxis, lock: Quantity) -> Quantity:
    """Length of the routing with the bar turned, in mm, to the hundredth.

    Args:
        points: the routing with the bar straight ahead.
        axis: the steering axis.
        lock: how far the bar is turned, to the left above zero.

    Raises:
        ValueError: as `routed_length`, or an angle that is none.
    """
    if len(points) < 2:
        msg = "a routing has at least two points"
        raise ValueError(msg)
    rake = math.radians(float(axis.rake.to(_DEGREE).value))
    direction = (-math.sin(rake), 0.0, math.cos(rake))
    angle = math.radians(float(lock.to(_DEGREE).value))
    origin = axis.through.in_mm()
    return _rounded(
        _length(
            [
                _turned(point.in_mm(), origin, direction, angle) if point.turns else point.in_mm()
                for point in points
            ]
        )
    )


def slack_at_lock(
    length: Quantity, points: Sequence[Point], axis: SteeringAxis, lock: Quantity
) -> Quantity:
    """What is left of a line at the tightest of left lock, straight and right lock, in mm.

    Below zero the line is too short, by so much.

    Raises:
        ValueError: as `length_at_lock`, or a length that is none.
    """
    straight = Quantity(Fraction(0), _DEGREE)
    other = Quantity(-lock.value, lock.unit)
    longest = max(length_at_lock(points, axis, turn).value for turn in (lock, straight, other))
    return Quantity(length.to(_MM).value - longest, _MM)


def _length(vectors: Sequence[_Vector]) -> float:
    return sum(math.dist(one, following) for one, following in pairwise(vectors))


def _turned(point: _Vector, origin: _Vector, axis: _Vector, angle: float) -> _Vector:
    """Rodrigues: v·cos φ + (k × v)·sin φ + k·(k · v)·(1 − cos φ), about an axis through origin."""
    v = [p - o for p, o in zip(point, origin, strict=True)]
    k = axis
    along = sum(a * b for a, b in zip(k, v, strict=True)) * (1 - math.cos(angle))
    crossed = (
        k[1] * v[2] - k[2] * v[1],
        k[2] * v[0] - k[0] * v[2],
        k[0] * v[1] - k[1] * v[0],
    )
    x, y, z = (
        v[i] * math.cos(angle) + crossed[i] * math.sin(angle) + k[i] * along + origin[i]
        for i in range(3)
    )
    return x, y, z


def _rounded(length: float) -> Quantity:
    return Quantity(Fraction(round(length * 100), 100), _MM)
