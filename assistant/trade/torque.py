"""Torque and clamp load: T = K · d · F, what a thread bears, passes and patterns.

T torque, K nut factor, d nominal diameter, F clamp load (short-form torque equation of the
machine-design handbooks; NASA RP-1228). The scatter of F at one T is about ±30 %, so these
figures tell whether a torque is plausible. They never replace the maker's.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from assistant.trade.grades import Grade
from assistant.trade.quantity import Quantity, unit_named
from assistant.trade.stress import stress_area
from assistant.trade.threads import Thread
from assistant.trade.units import NEWTON

REUSABLE: Final = Fraction(3, 4)
"""Share of the proof load for joints that are taken apart again (machine-design textbook)."""

FIRST_PASS: Final = Fraction(7, 10)
FIRST_PASS_ABOVE: Final = Quantity(Fraction(30), unit_named("lbf·ft"))
"""Above this, 70 % first where no order is given (US Army TM 5-3805-298-23-2 WP 0176)."""

_NEWTON_METER: Final = unit_named("N·m")
_METER: Final = unit_named("m")


@dataclass(frozen=True, slots=True)
class NutFactor:
    """K for a state of the thread: the usual figure and its published range.

    Attributes:
        verified: False for a row from memory.
    """

    condition: str
    low: Fraction
    factor: Fraction
    high: Fraction
    source: str
    verified: bool


@dataclass(frozen=True, slots=True)
class Reduction:
    """What is taken off a torque that is meant for clean dry threads in steel.

    Attributes:
        share: of the torque, 0 to 1.
        verified: False for a row from memory.
    """

    reason: str
    share: Fraction
    source: str
    verified: bool


@dataclass(frozen=True, slots=True)
class Bears:
    """What a thread of a grade bears.

    Attributes:
        proof_load: in N.
        reusable: torque at three quarters of the proof load, in N·m.
        proof: torque at the proof load, in N·m: beyond it the bolt stays longer.
    """

    proof_load: Quantity
    reusable: Quantity
    proof: Quantity


def proof_load(thread: Thread, grade: Grade, printed: Mapping[str, Quantity]) -> Quantity:
    """Stress area times proof stress, in N (ISO 898-1 proof-load tables agree within 0.5 %).

    Where the standard tabulates no proof stress (stainless) the 0.2 % stress is taken.
    """
    area = stress_area(thread, printed)
    stress = grade.bears
    newtons = area.value * area.unit.factor * stress.value * stress.unit.factor
    return Quantity(newtons, NEWTON)


def torque_for(clamp_load: Quantity, thread: Thread, factor: Fraction) -> Quantity:
    """The torque that gives a clamp load, T = K · d · F, in N·m.

    Raises:
        ValueError: the clamp load is no force.
    """
    force = clamp_load.to(NEWTON).value
    return Quantity(factor * thread.diameter.to(_METER).value * force, _NEWTON_METER)


def clamp_load(torque: Quantity, thread: Thread, factor: Fraction) -> Quantity:
    """The clamp load that a torque gives, F = T / (K · d), in N; ±30 % in practice.

    Raises:
        ValueError: the torque is none, or the factor is not above zero.
    """
    if factor <= 0:
        msg = "a nut factor is above zero"
        raise ValueError(msg)
    arm = factor * thread.diameter.to(_METER).value
    return Quantity(torque.to(_NEWTON_METER).value / arm, NEWTON)


def share_of_proof(
    torque: Quantity,
    thread: Thread,
    grade: Grade,
    factor: Fraction,
    printed: Mapping[str, Quantity],
) -> Fraction:
    """Clamp load at this torque as a share of the proof load; 3/4 is usual.

    Raises:
        ValueError: as `clamp_load`.
    """
    load = clamp_load(torque, thread, factor)
    return load.value / proof_load(thread, grade, printed).value


def bears(thread: Thread, grade: Grade, factor: Fraction, printed: Mapping[str, Quantity]) -> Bears:
    """What a thread of this grade bears at a nut factor."""
    load = proof_load(thread, grade, printed)
    at_proof = torque_for(load, thread, factor)
    return Bears(load, Quantity(at_proof.value * REUSABLE, _NEWTON_METER), at_proof)


def reduced(torque: Quantity, reductions: Mapping[str, Reduction], *reasons: str) -> Quantity:
    """A dry steel table's torque less what each reason takes off, in its own unit.

    Args:
        torque: for clean dry threads in steel.
        reductions: by reason (US Army TM 9-2320-362-14&P Appendix F: oiled 10 %,
            new plated screws 20 %, bare aluminum 30 %).
        reasons: which of them apply.

    Raises:
        KeyError: a reason that the table doesn't have.
    """
    value = torque.value
    for reason in reasons:
        value *= 1 - reductions[reason].share
    return Quantity(value, torque.unit)


def passes(final: Quantity) -> tuple[Quantity, ...]:
    """The passes where the maker gives none: 70 % first above 30 lbf·ft, else the torque at once.

    US Army TM 5-3805-298-23-2 WP 0176. Each in the unit of the final torque.

    Raises:
        ValueError: it is no torque.
    """
    if final.to(FIRST_PASS_ABOVE.unit).value <= FIRST_PASS_ABOVE.value:
        return (final,)
    return Quantity(final.value * FIRST_PASS, final.unit), final


def crosswise(count: int) -> tuple[int, ...]:
    """The order for bolts on a circle, numbered from 1 round it.

    An even number goes in opposite pairs, each pair as far as it can be from those before it:
    four bolts 1, 3, 2, 4; eight 1, 5, 3, 7, 2, 6, 4, 8. An odd number goes as a star: five
    1, 3, 5, 2, 4. Opposite pairs: US Army TM 5-3805-298-23-2 WP 0176; how the pairs follow
    each other, and the star: common practice, no source.

    Raises:
        ValueError: fewer than one bolt.
    """
    _at_least_one(count)
    half = max(count // 2, 1)
    if count % 2:
        return tuple(turn * half % count + 1 for turn in range(count))
    order: list[int] = []
    pairs = list(range(half))
    while pairs:
        first = max(pairs, key=lambda place: (_nearest(place, order, count), -place))
        pairs.remove(first)
        order.extend((first, first + half))
    return tuple(place + 1 for place in order)


def _nearest(place: int, done: list[int], count: int) -> int:
    """Steps round the circle to the nearest bolt already done."""
    return min((min((place - one) % count, (one - place) % count) for one in done), default=count)


def middle_out(count: int) -> tuple[int, ...]:
    """The order for bolts in a row, numbered from 1: from the middle out, side by side.

    US Army TM 5-3805-298-23-2 WP 0176 ("straight pattern from the middle out").

    Raises:
        ValueError: fewer than one bolt.
    """
    _at_least_one(count)
    middle = Fraction(count + 1, 2)
    return tuple(sorted(range(1, count + 1), key=lambda place: (abs(place - middle), place)))


def _at_least_one(count: int) -> None:
    if count < 1:
        msg = "a pattern needs at least one bolt"
        raise ValueError(msg)
