"""A bench for the job's core: a small checklist, a clock of its own, and calls that drive it."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from dataclasses import replace
from functools import cache

from assistant.checklist.expand import expand
from assistant.checklist.loader import load
from assistant.checklist.model import Reading
from assistant.checklist.plan import PlannedStep
from assistant.job.confirm import latest_reading, side_unsaid, unread_number
from assistant.job.effects import Effect, Line, Say
from assistant.job.events import Dictated, Event, Heard, Opened, Resumed, Stamp, Tick, Unclear
from assistant.job.machine import advance
from assistant.job.measure import hold_seconds
from assistant.job.pace import least_seconds
from assistant.job.state import JobState, Mode, Setting
from assistant.language.intent import Intent
from assistant.opening import setting_of
from assistant.trade.quantity import Quantity, number_text, unit_named

ROSTER = {"mara": "Mara", "ines": "Ines", "tobin": "Tobin"}

HEAD = """\
checklist: small
title: Small job
version: 1.0.0
machines:
  - name: Ostrel 900 roadster
source: Written for a test.
standing: Upright on the stand.
sections:
  - section: only
    title: Only section
    steps:
"""

ALL_HAZARDS = HEAD + textwrap.indent(
    textwrap.dedent("""\
    - step: look-round
      do: "Look the machine over."
      optional: true
      minutes: 1
      why: "What was there before is noted first."
    - step: negative-off
      do: "Take the negative cable off."
      fastener: {name: "terminal bolt", thread: "M6 × 1", drive: "10 mm socket"}
      cautions:
        - {signal: CAUTION, text: "Sharp edge."}
        - {signal: DANGER, text: "An arc burns."}
      hazards: {battery: disconnect}
      off:
        - {item: "negative cable", mark: "left"}
    - step: line-off
      do: "Pull the fuel line off."
      hazards: {fuel: open}
      off:
        - {item: "fuel line", how: unplugged}
    - step: line-on
      do: "Push the fuel line on."
      hazards: {fuel: close}
      back:
        - {item: "fuel line"}
      reopens: [leak-check]
    - step: leak-check
      do: "Look for a leak."
      hazards: {fuel: prove}
      second_person: true
      reopens: [line-on]
    - step: hose-off
      do: "Undo the brake hose."
      hazards: {brake: open}
      off:
        - {item: "brake hose"}
      reopens: [leak-check]
    - step: hose-on
      do: "Bolt the brake hose on."
      fastener: {name: "banjo bolt", thread: "3/8-24 UNF", length: "22 mm", drive: "T45"}
      torque: {value: "22 N·m", source: "test notes"}
      parts:
        - {name: "crush washer", number: "WL-CW-10", count: 2, single_use: true}
      consumables: ["DOT 4 brake fluid"]
      hazards: {brake: close}
      back:
        - {item: "brake hose"}
    - step: lever-hold
      do: "Hold the lever."
      hazards: {brake: prove}
      hold: {time: "30 s", what: "lever held hard"}
      reopens: [lever-hold]
    - step: negative-on
      do: "Put the negative cable on."
      hazards: {battery: reconnect}
      reopens: [leak-check, lever-hold]
      back:
        - {item: "negative cable"}
    - step: resting-voltage
      do: "Read the voltage."
      hazards: {battery: prove}
      readings:
        - {name: "resting voltage", unit: V, at_least: "12.4 V", at_most: "13.2 V",
           condition: "key off"}
    - step: pad-wear
      do: "Measure the pads."
      readings:
        - {name: "pad thickness", unit: mm, at_least: "5/32 in"}
      reopens: [lever-hold, pad-wear]
    - step: wipe-down
      do: "Wipe the machine down."
      optional: true
      reopens: [leak-check, lever-hold, pad-wear]
    """),
    "      ",
)

PLAIN = HEAD + textwrap.indent(
    textwrap.dedent("""\
    - step: first
      do: "Set the bracket."
    - step: second
      do: "Set the cover."
      optional: true
    - step: third
      do: "Wipe the bench."
    """),
    "      ",
)


SLOTS: Mapping[str, Mapping[str, str]] = {
    "reading": {"number": "12.8", "unit": "V"},
    "convert": {"torque_unit": "lbf·ft"},
    "leave_out_reason": {"reason": "not-needed"},
    "trouble_kind": {"trouble": "leak"},
    "start_timer": {"number": "5"},
    "name_part": {"part": "bolt"},
    "name_count": {"cardinal": "2"},
    "part_number": {"characters": "WLCW10"},
    "hand_over": {"name": "ines"},
    "read_back": {"read_back": "freeze", "challenge": "00"},
    "use_wrench": {"wrench": "short wrench"},
    "name_side": {"side": "left"},
}
"""A filling for every intent that has slots; the read-back's is never right."""


@cache
def setting(text: str = ALL_HAZARDS) -> Setting:
    """The setting of a checklist without options."""
    return setting_of(expand(load({"small.yaml": text}, "small.yaml"), {}), ROSTER)


class Bench:
    """One job, driven by hand.

    Attributes:
        state: the job now.
        events: everything that happened.
        effects: what the last event asked for.
        now: monotonic seconds.
        fresh: the numbers that the next events carry; the last one stays.
    """

    def __init__(
        self,
        fixed: Setting | None = None,
        *,
        second: str | None = "tobin",
        opened: bool = True,
        kit: bool = False,
    ) -> None:
        self.setting = fixed or setting()
        self.state = JobState()
        self.events: list[Event] = []
        self.effects: tuple[Effect, ...] = ()
        self.now = 1000.0
        self.fresh: Iterator[int] = _numbers()
        if opened:
            self.happens(Opened(self.stamp(), "job-1", "WREN 7", "mara", second, kit))

    def stamp(self) -> Stamp:
        """Now, with the next number."""
        wall = f"2026-03-02T10:{int(self.now) // 60 % 60:02d}:{int(self.now) % 60:02d}Z"
        return Stamp(wall, self.now, next(self.fresh))

    def happens(self, event: Event) -> tuple[str, ...]:
        """One event; returns the keys of what is said."""
        self.events.append(event)
        self.state, self.effects = advance(self.setting, self.state, event)
        return self.said()

    def hear(self, name: str, /, **slots: str) -> tuple[str, ...]:
        """An intent is heard."""
        return self.happens(Heard(self.stamp(), Intent(name, tuple(slots.items()), name)))

    def hear_any(self, intent: str) -> tuple[str, ...]:
        """An intent is heard, its slots filled with something that makes sense somewhere."""
        return self.hear(intent, **SLOTS.get(intent, {}))

    def wait(self, seconds: float) -> None:
        """Time goes by and nobody notices."""
        self.now += seconds

    def tick(self, seconds: float = 0.0) -> tuple[str, ...]:
        """Time goes by and the program looks at the clock."""
        self.now += seconds
        return self.happens(Tick(self.stamp()))

    def unclear(self, text: str = "") -> tuple[str, ...]:
        """Something is said that can't be accepted."""
        return self.happens(Unclear(self.stamp(), text))

    def dictate(self, seconds: float = 2.0, text: str = "") -> tuple[str, ...]:
        """Free speech."""
        return self.happens(Dictated(self.stamp(), seconds, None, text))

    def resume(self, who: str = "mara") -> tuple[str, ...]:
        """The program is started again."""
        return self.happens(Resumed(self.stamp(), who))

    def lines(self) -> tuple[Line, ...]:
        """Every line that the last event made the assistant say."""
        return tuple(said for e in self.effects if isinstance(e, Say) for said in e.lines)

    def said(self) -> tuple[str, ...]:
        """The keys of those lines."""
        return tuple(said.key for said in self.lines())

    def value(self, key: str, name: str) -> str:
        """A value of the last line with this key."""
        return dict([said for said in self.lines() if said.key == key][-1].values)[name]

    def waits(self) -> tuple[Mode, str]:
        """The mode, with the stop that is being met or else the step."""
        stop = self.state.stop
        return self.state.mode, stop.value if stop is not None else self.step()

    def step(self) -> str:
        """The id of the step that is open or comes next; empty at the release."""
        planned = self.state.step(self.setting)
        return planned.id if planned is not None else ""

    def number(self) -> str:
        """The number that is asked for now."""
        assert self.state.challenge is not None
        return self.state.challenge.number

    def read_back(self, words: str | None = None, number: str | None = None) -> tuple[str, ...]:
        """A read-back; right in every way that isn't given."""
        if words is None:
            wanted = {
                Mode.FROZEN: "freeze",
                Mode.SECOND_PERSON: "second_person",
                Mode.STOP_SECOND: "second_person",
            }
            stop = self.state.stop.value if self.state.stop is not None else ""
            words = wanted.get(self.state.mode, stop)
        return self.hear("read_back", read_back=words, challenge=number or self.number())

    def measure(self, wanted: Reading, value: str | None = None) -> None:
        """A reading is spoken and affirmed; inside its limits if no value is given."""
        said = Quantity.parse(value) if value else inside(wanted)
        self.hear("reading", number=number_text(said.value), unit=said.unit.symbol)
        assert self.state.mode is Mode.READING_CHECK
        self.hear("affirm")

    def answer(self) -> None:
        """What a technician without trouble does next."""
        mode = self.state.mode
        if mode in (Mode.KIT, Mode.STANDING, Mode.PACE_CHECK, Mode.HOLD_CHECK, Mode.READING_CHECK):
            self.hear("affirm")
        elif self.state.challenge is not None:
            self.read_back()
        elif mode in (Mode.FROZEN, Mode.STAND_BY):
            self.hear("carry_on")
        elif mode is Mode.HOLDING:
            self.tick(hold_seconds(self.setting, self.state))
        elif mode is Mode.STEP:
            self._work()
        else:
            raise AssertionError(f"nothing to answer in mode {mode}")

    def _work(self) -> None:
        planned = self.state.step(self.setting)
        assert planned is not None
        for wanted in planned.step.readings:
            if latest_reading(self.state, planned.id, wanted.name) is None:
                self.measure(wanted)
                return
        if planned.step.hold is not None and not self.state.progress.held:
            self.hear("start_hold")
            return
        self._said_first(planned)
        self.wait(least_seconds(planned) + 1)
        self.hear("step_done")

    def _said_first(self, planned: PlannedStep) -> None:
        """The side, and the numbers of the parts in hand, where the step wants them."""
        if side_unsaid(self.state, planned):
            self.hear("name_side", side=planned.step.side or "")
        while (part := unread_number(self.state, planned)) is not None:
            number = (part.number or "").replace("-", "")
            self.hear("read_part_number")
            assert "number.same" in self.hear("part_number", characters=number)

    def run_to(self, step: str, mode: Mode = Mode.STEP) -> Bench:
        """Work without trouble until this step (empty: the release) is met in this mode."""
        for _ in range(1000):
            if self.step() == step and self.state.mode is mode:
                return self
            self.answer()
        raise AssertionError(f"step {step} is never met in mode {mode}")

    def finish(self) -> Bench:
        """Work without trouble until the job is released."""
        return self.run_to("", Mode.RELEASED)


def inside(wanted: Reading) -> Quantity:
    """A value that passes."""
    unit = unit_named(wanted.unit)
    limit = wanted.at_least or wanted.at_most
    return limit.to(unit) if limit is not None else Quantity.parse(f"3 {unit.symbol}")


def _numbers() -> Iterator[int]:
    """Two-digit numbers, each different from the one before."""
    number = 10
    while True:
        number = (number - 10 + 37) % 90 + 10
        yield number


def apprentice_at_stop(step: str = "line-off") -> Bench:
    """An apprentice at the safety stop before a step, the own read-back given."""
    bench = Bench(replace(setting(), apprentices=frozenset({"mara"})))
    for _ in range(1000):
        if bench.step() == step and bench.state.mode is Mode.STOP:
            bench.read_back()
            return bench
        bench.answer()
    raise AssertionError(f"no stop before {step}")


def at_step(step: str, mode: Mode = Mode.STEP, text: str = ALL_HAZARDS) -> Bench:
    """A job that has come this far without trouble."""
    return Bench(setting(text)).run_to(step, mode)


def changes_nothing(before: JobState, after: JobState) -> bool:
    """Whether nothing of the job itself changed; how often nothing was understood may."""
    return before == after
