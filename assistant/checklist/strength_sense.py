"""Whether a fastener's grade and thread bear its torque, in steel and in what is softer."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from assistant.checklist.figures import about, decimal, percent, times
from assistant.checklist.fit_sense import thread_of
from assistant.checklist.model import Fastener, Torque
from assistant.checklist.places import Place
from assistant.checklist.trade_words import TradeWords, first_named
from assistant.errors import Finding, Level
from assistant.trade.grades import Grade, grade_for, named, strongest
from assistant.trade.quantity import Dimension, Quantity
from assistant.trade.tables import Tables
from assistant.trade.threads import Thread
from assistant.trade.torque import Bears, Reduction, bears
from assistant.trade.units import KILONEWTON, rounded

# Below this share of what it bears, a torque is likelier a slip than meant. Common practice,
# no source.
_HARDLY_TIGHT: Final = Fraction(1, 10)


@dataclass(frozen=True, slots=True)
class _Joint:
    """A torque with what its fastener bears.

    Attributes:
        graded: whether the checklist names the grade; else it is the strongest there is.
        factor: K for the state of the thread.
        bears: in steel.
        soft: what the thread is in, where that bears less; its name and its reduction.
    """

    torque: Torque
    thread: Thread
    grade: Grade
    graded: bool
    factor: Fraction
    bears: Bears
    soft: tuple[str, Reduction] | None

    @property
    def value(self) -> Quantity:
        return self.torque.value

    @property
    def limit(self) -> Quantity:
        """The most for a joint that is taken apart again, in the torque's own unit."""
        return self.bears.reusable.to(self.value.unit)

    @property
    def stretches(self) -> bool:
        """Whether the torque goes beyond the proof load."""
        return self.value.value > self.bears.proof.to(self.value.unit).value

    @property
    def bolt(self) -> str:
        """As a technician names it: M6 8.8, M8 × 1 10.9, 3/8-16 UNC SAE grade 5."""
        coarse = self.thread.series == "M" and Thread.parse(self.thread.size) == self.thread
        name = self.thread.size if coarse else str(self.thread)
        return f"{name} {self.grade.label.removeprefix('class ')}"


def strength_findings(place: Place, tables: Tables, words: TradeWords) -> Iterator[Finding]:
    """Findings about the grade of one step's fastener and the torque that it gets.

    A fastener that is special is not compared: the maker's value wins.
    """
    fastener = place.step.fastener
    if fastener is None or fastener.special:
        return
    yield from _grade_findings(place, fastener, tables)
    joint = _joint(place, fastener, tables, words)
    if joint is None:
        return
    if joint.value.value > joint.limit.value and (joint.graded or joint.stretches):
        yield _too_high(place, joint)
    elif joint.soft is not None:
        yield from _too_high_for_soft(place, joint, *joint.soft)
    elif joint.graded and joint.value.value < joint.limit.value * _HARDLY_TIGHT:
        message = (
            f"{joint.value} is {percent(joint.value.value / joint.limit.value)} of the "
            f"{about(joint.limit)} that {joint.bolt} bears; was another unit meant?"
        )
        yield place.warning("torque-too-low", message, "torque", "value")


def _grade_findings(place: Place, fastener: Fastener, tables: Tables) -> Iterator[Finding]:
    """A grade that is none, or that belongs to threads of the other system."""
    if fastener.grade is None:
        return
    try:
        rows = named(tables.grades, fastener.grade)
    except ValueError as error:
        yield place.warning("unknown-grade", str(error), "fastener", "grade")
        return
    thread = thread_of(fastener)
    if thread is None or grade_for(rows, thread) is not None:
        return
    if rows[0].metric != (thread.series == "M"):
        message = f"{rows[0].label} is for {_system(rows[0].metric)} threads; {thread} is none"
        yield place.error("grade-of-other-system", message, "fastener", "grade")
    else:
        message = f"{rows[0].standard} has no {rows[0].label} for {thread}"
        yield place.error("grade-of-other-size", message, "fastener", "grade")


def _system(metric: bool) -> str:
    return "metric" if metric else "inch"


def _joint(place: Place, fastener: Fastener, tables: Tables, words: TradeWords) -> _Joint | None:
    torque, thread = place.step.torque, thread_of(fastener)
    if torque is None or thread is None or torque.value.value <= 0:
        return None
    if torque.value.unit.dimension is not Dimension.TORQUE:
        return None
    known = _grade(fastener, thread, tables)
    grade = known or strongest(tables.grades, thread)
    factor = tables.nut_factors[torque.condition].factor
    soft = _soft(fastener, torque, words)
    return _Joint(
        torque=torque,
        thread=thread,
        grade=grade,
        graded=known is not None,
        factor=factor,
        bears=bears(thread, grade, factor, tables.stress_areas),
        soft=(soft, tables.reductions[soft]) if soft is not None else None,
    )


def _grade(fastener: Fastener, thread: Thread, tables: Tables) -> Grade | None:
    if fastener.grade is None:
        return None
    try:
        return grade_for(named(tables.grades, fastener.grade), thread)
    except ValueError:
        return None


def _soft(fastener: Fastener, torque: Torque, words: TradeWords) -> str | None:
    """The material that the thread is in, where it bears less than steel."""
    if fastener.into is not None:
        return None if fastener.into == "steel" else fastener.into
    told = first_named(f"{torque.trap or ''} {fastener.name}", words.soft)
    return words.soft[told] if told is not None else None


def _too_high(place: Place, joint: _Joint) -> Finding:
    whose = "" if joint.graded else "no grade is named, and even the strongest, "
    load = decimal(rounded(joint.bears.proof_load.to(KILONEWTON), 1))
    message = (
        f"{whose}{joint.bolt} bears at most {about(joint.limit)} {joint.torque.condition} "
        f"(T = K·d·F, K = {float(joint.factor):g}, F three quarters of the proof load of {load}, "
        f"{joint.grade.source}): {joint.value} is {times(joint.value, joint.limit)} times that"
    )
    if joint.stretches:
        message += " and stretches it for good; where the maker asks for it, say so in special"
        return place.error("torque-too-high", message, "torque", "value")
    message += "; where the maker asks for it, say so in special"
    return place.warning("torque-high", message, "torque", "value")


def _too_high_for_soft(
    place: Place, joint: _Joint, soft: str, reduction: Reduction
) -> Iterator[Finding]:
    less = Quantity(joint.limit.value * (1 - reduction.share), joint.limit.unit)
    if joint.value.value <= less.value:
        return
    message = (
        f"the thread is in {soft}, which takes {percent(reduction.share)} off "
        f"({reduction.source}): {joint.bolt} bears {about(joint.limit)} in steel, {about(less)} "
        f"here; {joint.value} is {times(joint.value, less)} times that, a torque made for steel; "
        "where the maker asks for it, say so in special"
    )
    proof = joint.bears.proof.to(joint.value.unit).value * (1 - reduction.share)
    strips = reduction.verified and joint.value.value > proof
    level: Level = "error" if strips else "warning"
    yield place.finding(level, "torque-for-steel", message, "torque", "value")
