"""A checklist tried out by brute force: the real dialogue is run, and must never be stuck.

Written from the invariants and the texts of the stops alone: it knows nothing of the proof. The
job itself is the judge. For each choice of options and each subset of the optional steps, a
technician who does everything right works through to the release. At each step and stop, an
alarm, a hand-over, a new start or a trouble may come in between once. The checklist is unsafe
when the job then refuses a step, refuses to leave out what may be left out, blocks the release,
or doesn't end.

Paths that can't differ any more are followed once: states of the job with equal progress.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from typing import Final

from assistant.checklist.expand import expand, option_sets, options_text
from assistant.checklist.loader import Loaded
from assistant.job.state import JobState, Mode, Setting
from assistant.opening import setting_of
from tests.job.bench import ROSTER, Bench

MOST_OPTION_SETS: Final = 64
MOST_EVENTS: Final = 60_000  # 80 steps with two of them optional take some 20,000
_OPEN: Final = (Mode.STEP, Mode.STOP)


@dataclass(frozen=True, slots=True)
class Fault:
    """How a job went wrong.

    Attributes:
        path: the options, what came in between, and the step where it ended.
        said: keys of what the job said then.
    """

    path: tuple[str, ...]
    said: tuple[str, ...]


class _Stuck(Exception):  # noqa: N818 - the verdict on a checklist, not an error
    def __init__(self, said: tuple[str, ...]) -> None:
        super().__init__(said)
        self.said = said


def straight(loaded: Loaded) -> Fault | None:
    """Every choice of options and every subset of the optional steps, with no trouble at all."""
    return _first(loaded, None, disturbed=False)


def disturbed(loaded: Loaded, sets: int | None = 1) -> Fault | None:
    """The same with one disturbance at every place, on the first so many choices of options."""
    return _first(loaded, sets, disturbed=True)


def _first(loaded: Loaded, sets: int | None, *, disturbed: bool) -> Fault | None:
    for place, options in enumerate(option_sets(loaded, MOST_OPTION_SETS)):
        if sets is not None and place >= sets:
            break
        fixed = setting_of(expand(loaded, options), ROSTER)
        fault = _Trial(fixed, disturbed=disturbed).fault()
        if fault is not None:
            return Fault((f"options {options_text(options)}", *fault.path), fault.said)
    return None


class _Trial:
    """All jobs on one choice of options."""

    def __init__(self, fixed: Setting, *, disturbed: bool) -> None:
        self._fixed = fixed
        self._disturbed = disturbed
        self._seen: set[Hashable] = set()
        self._events = 0
        self._released = 0
        # What is still to be followed: a state, whether a disturbance may still come, the way.
        self._waiting: list[tuple[JobState, float, bool, bool, tuple[str, ...]]] = []
        self._reopening = {p.id for p in fixed.plan.steps if p.step.reopens}
        self._reading = {p.id for p in fixed.plan.steps if p.step.readings}

    def fault(self) -> Fault | None:
        bench = Bench(self._fixed)
        self._waiting.append((bench.state, bench.now, self._disturbed, False, ()))
        while self._waiting:
            state, now, fresh, at_once, path = self._waiting.pop()
            try:
                self._follow(state, now, fresh, at_once, path)
            except _Stuck as stuck:
                here = state.step(self._fixed)
                return Fault((*path, f"from {here.id if here else 'release'}"), stuck.said)
        assert self._released, "no job was released, so nothing was tried out"
        return None

    def _follow(
        self, state: JobState, now: float, fresh: bool, at_once: bool, path: tuple[str, ...]
    ) -> None:
        """Work on until the release, or until a state that was met before."""
        bench = self._bench(state, now)
        mine: set[Hashable] = set()
        while bench.state.mode is not Mode.RELEASED:
            self._events += 1
            if self._events > MOST_EVENTS:
                raise _Stuck(("never ends",))
            if at_once and bench.state.mode is Mode.STEP:
                bench.hear("trouble_cleared")
                at_once = False
            if bench.state.mode in _OPEN and not at_once:
                key = self._key(bench.state, fresh)
                if key in mine:
                    raise _Stuck(("goes round in a circle", *bench.said()))
                if key in self._seen:
                    return
                self._seen.add(key)
                mine.add(key)
                self._branch(bench, fresh, path)
            _press_on(bench)
        self._released += 1

    def _bench(self, state: JobState, now: float) -> Bench:
        bench = Bench(self._fixed, opened=False)
        bench.state, bench.now = state, now
        return bench

    def _branch(self, bench: Bench, fresh: bool, path: tuple[str, ...]) -> None:
        """Everything that may happen here instead of going on."""
        planned = bench.state.step(self._fixed)
        here = planned.id if planned is not None else "release"
        if planned is not None and planned.step.optional and bench.state.mode is Mode.STEP:
            other = self._bench(bench.state, bench.now)
            if "leave_out.refused" in other.hear("leave_out"):
                raise _Stuck(("leave_out.refused", here))
            other.hear("leave_out_reason", reason="not-needed")
            self._later(other, fresh, False, (*path, f"{here} left out"))
        if not fresh:
            return
        for name, disturb in DISTURBANCES.items():
            other = self._bench(bench.state, bench.now)
            if disturb(other):
                way = (*path, f"{name} at {here}")
                self._later(other, False, False, way)
                if other.state.open_troubles():
                    self._later(other, False, True, (*way, "cleared at once"))

    def _later(self, bench: Bench, fresh: bool, at_once: bool, path: tuple[str, ...]) -> None:
        self._waiting.append((bench.state, bench.now, fresh, at_once, path))

    def _key(self, state: JobState, fresh: bool) -> Hashable:
        """All of a state that decides what can still be done.

        A trouble that reopens nothing is cleared before the release and changes nothing else; a
        step left out matters later only where a reading of it would be missed.
        """
        now = state.progress
        return (
            fresh,
            state.mode,
            state.stop,
            now.at,
            now.queue,
            now.hazards,
            now.held,
            state.standing,
            frozenset(state.since) if self._asks(state) else None,
            tuple(sorted((e.item, e.how, e.count) for e in now.off.entries)),
            frozenset((r.step, r.name) for r in now.readings),
            frozenset(now.again),
            frozenset(e.step for e in now.left_out if e.step in self._reading),
            frozenset(t.step for t in state.open_troubles() if t.step in self._reopening),
        )

    def _asks(self, state: JobState) -> bool:
        """Whether the next step's author asked for a stop of its own."""
        planned = state.step(self._fixed)
        return planned is not None and planned.step.stop is not None


def _press_on(bench: Bench) -> None:
    """What a technician who does everything right does next."""
    before = bench.state
    if before.mode is Mode.BEFORE_RELEASE:
        if not before.open_troubles():
            raise _Stuck(bench.said() or tuple(line.key for line in before.last))
        bench.hear("trouble_cleared")
        return
    bench.answer()
    stuck = before.mode is Mode.STEP and bench.state.progress == before.progress
    if stuck and bench.state.mode is Mode.STEP:
        if "interlock.blocked" in bench.said() and before.open_troubles():
            bench.hear("trouble_cleared")  # it may be the trouble that blocks
            return
        raise _Stuck(bench.said())


def _alarm(name: str) -> Callable[[Bench], bool]:
    def sound(bench: Bench) -> bool:
        bench.hear(name)
        return True

    return sound


def _handed_over(bench: Bench) -> bool:
    if bench.state.mode is not Mode.STEP:
        return False
    bench.hear("hand_over", name="ines")
    bench.hear("affirm")
    return bench.state.who == "ines"


def _started_again(bench: Bench) -> bool:
    bench.resume()
    return True


def _trouble(bench: Bench) -> bool:
    planned = bench.state.step(bench.setting)
    if planned is None or not planned.step.reopens:
        return False
    bench.hear("report_trouble")
    bench.hear("trouble_kind", trouble="leak")
    bench.dictate()
    return bool(bench.state.open_troubles())


DISTURBANCES: Final[dict[str, Callable[[Bench], bool]]] = {
    "smell of fuel": _alarm("smell_of_fuel"),
    "smoke": _alarm("smoke"),
    "leak": _alarm("fluid_leak"),
    "hand-over": _handed_over,
    "new start": _started_again,
    "trouble": _trouble,
}
