"""The state of a job: frozen, and always the replay of its events."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from assistant.checklist.model import Reading
from assistant.checklist.offlist import OffList
from assistant.checklist.plan import Plan, PlannedStep
from assistant.job.effects import Line
from assistant.job.events import Earlier
from assistant.safety.hazards import HazardState, Stop
from assistant.safety.stops import StopTexts
from assistant.trade.quantity import Quantity
from assistant.trade.wrenches import TorqueWrench


class Mode(StrEnum):
    """What the assistant is waiting for."""

    NEW = "new"
    KIT = "kit check"
    STANDING = "standing"
    STEP = "step"
    READING_CHECK = "reading check"
    PACE_CHECK = "pace check"
    HOLDING = "holding"
    HOLD_CHECK = "hold check"
    SECOND_PERSON = "second person"
    REASON = "reason"
    STOP = "safety stop"
    STOP_SECOND = "safety stop, second person"
    STAND_BY = "stand by"
    FROZEN = "frozen"
    NOTE = "note"
    TROUBLE_KIND = "trouble kind"
    TROUBLE_NOTE = "trouble note"
    OFF_PART = "part that came off"
    OFF_LABEL = "spoken part name"
    OFF_COUNT = "count"
    OFF_CHECK = "off check"
    BACK_CHECK = "back check"
    PART_NUMBER = "part number"
    HAND_OVER = "hand over"
    BEFORE_RELEASE = "before release"
    RELEASED = "released"


@dataclass(frozen=True, slots=True)
class Limits:
    """Times of the dialogue, seconds on the monotonic clock.

    Attributes:
        challenge: a challenge number expires after this.
        tries: wrong read-backs before the stop says to step back and use the keys.
        long_break: a pause longer than this makes open hazards be confirmed again (I5).
    """

    challenge: float = 120.0
    tries: int = 3
    long_break: float = 600.0


@dataclass(frozen=True, slots=True)
class ShopWrench:
    """A torque wrench of the shop.

    Attributes:
        calibrated_until: last day of its calibration, ISO 8601; empty when nobody wrote it down.
        past_calibration: that day was over when the job began.
    """

    wrench: TorqueWrench
    calibrated_until: str = ""
    past_calibration: bool = False

    @property
    def name(self) -> str:
        """What the shop calls it."""
        return self.wrench.name


@dataclass(frozen=True, slots=True)
class Setting:
    """What stays the same during a job.

    Attributes:
        names: slot -> canonical value -> the words taught for it, from the phrasebook.
        roster: person id -> display name.
        apprentices: ids of those whose safety stops a second person reads back too.
        wrenches: the shop's torque wrenches.
        units: unit symbol -> ways to say it.
        learned: step id -> minutes that it takes in this shop, where enough jobs have told.
    """

    plan: Plan
    stops: StopTexts
    names: Mapping[str, Mapping[str, str]]
    roster: Mapping[str, str]
    limits: Limits = Limits()
    apprentices: frozenset[str] = frozenset()
    wrenches: tuple[ShopWrench, ...] = ()
    units: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    learned: Mapping[str, float] = field(default_factory=dict)

    def name_of(self, person: str) -> str:
        """The display name of a person on the roster."""
        return self.roster.get(person, person)

    def name(self, slot: str, value: str) -> str:
        """The words for a slot's value, or the value itself when it has none."""
        return self.names.get(slot, {}).get(value, value)


@dataclass(frozen=True, slots=True)
class Challenge:
    """A number that must be said back.

    Attributes:
        number: two digits.
        issued: monotonic seconds.
        tries: wrong answers so far.
    """

    number: str
    issued: float
    tries: int = 0


@dataclass(frozen=True, slots=True)
class Done:
    """A step that was confirmed.

    Attributes:
        seconds: time from when the step was opened until it was confirmed.
        second: roster id of the second person who agreed.
        wrench: the torque wrench that the step was told for; empty without one.
        set_to: what it was set to.
    """

    step: str
    number: int
    wall: str
    who: str
    seconds: float
    via: str
    second: str | None = None
    wrench: str = ""
    set_to: str = ""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """An optional step that was left out, and why."""

    step: str
    number: int
    reason: str
    wall: str
    who: str


@dataclass(frozen=True, slots=True)
class Taken:
    """A reading that was read back and affirmed."""

    step: str
    name: str
    value: Quantity
    within: bool
    limits: str
    condition: str | None
    wall: str
    who: str


@dataclass(frozen=True, slots=True)
class Passed:
    """A safety stop that was passed by its read-back.

    Attributes:
        second: who read it back as the second person, where an apprentice did the work.
        second_number: that person's own challenge number.
    """

    stop: str
    number: str
    tries: int
    wall: str
    who: str
    via: str
    second: str | None = None
    second_number: str = ""


@dataclass(frozen=True, slots=True)
class Trouble:
    """Something wrong found on the job.

    Attributes:
        done_before: confirmations that had been given when it was found.
        item: the thing that the kit check found missing; empty for every other trouble.
    """

    kind: str
    step: str
    wall: str
    who: str
    cleared: bool = False
    seconds: float = 0.0
    clip: str | None = None
    text: str = ""
    done_before: int = 0
    item: str = ""


@dataclass(frozen=True, slots=True)
class KitCheck:
    """The kit check before the first step.

    Attributes:
        answers: whether what was asked about was there, in the order of the questions.
        over: everything was answered.
    """

    answers: tuple[bool, ...] = ()
    over: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    """A spoken or typed note."""

    step: str
    seconds: float
    wall: str
    who: str
    clip: str | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class Timer:
    """A timer of the technician's own: when it is due, in monotonic seconds."""

    due: float
    minutes: str


@dataclass(frozen=True, slots=True)
class Pending:
    """What the present exchange has gathered so far; empty when it ends."""

    reading: Reading | None = None
    value: Quantity | None = None
    kind: str | None = None
    part: str | None = None
    count: int = 0
    label: str | None = None
    back: bool = False
    began: float = 0.0
    to: str | None = None
    first: Passed | None = None


@dataclass(frozen=True, slots=True)
class Progress:
    """The part of the state that a confirmation changes and a correction restores.

    Attributes:
        at: index of the first step not yet confirmed or left out.
        held: the open step's timed hold has been affirmed.
        queue: indices of steps that a cleared trouble reopened; they come before `at`.
        read: (step, part number) pairs: numbers read aloud from the part, and the same.
        sides: ids of steps whose side was said, and rightly.
        again: (step, reading) pairs of reopened steps; what was measured before doesn't count.
    """

    at: int = 0
    hazards: HazardState = field(default_factory=HazardState)
    off: OffList = field(default_factory=OffList)
    done: tuple[Done, ...] = ()
    left_out: tuple[LeftOut, ...] = ()
    readings: tuple[Taken, ...] = ()
    held: bool = False
    queue: tuple[int, ...] = ()
    again: tuple[tuple[str, str], ...] = ()
    read: tuple[tuple[str, str], ...] = ()
    sides: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JobState:
    """One job, now.

    Attributes:
        mode: what is waited for.
        before: progress before each confirmation since the last safety stop, newest last.
        opened: monotonic seconds when the open step was first read out.
        opened_for: id of that step.
        last: the lines that "say again" repeats.
        stop: the safety stop that is being met.
        standing: the standing condition has been confirmed since the last break.
        met: safety stops entered; one left unpassed and entered again counts once, one entered
            again after it was passed counts anew.
        unclear: utterances in a row that could not be accepted.
        wrench: name of the torque wrench that was last said to be in hand; empty: none was.
        since: safety stops passed since the last confirmed step.
        kit: the kit check; None where none was asked for.
        earlier: what earlier jobs on this machine left open.
    """

    mode: Mode = Mode.NEW
    job: str = ""
    vehicle: str = ""
    who: str = ""
    second: str | None = None
    began: str = ""
    ended: str = ""
    progress: Progress = field(default_factory=Progress)
    before: tuple[Progress, ...] = ()
    opened: float = 0.0
    opened_for: str = ""
    pending: Pending = Pending()
    stop: Stop | None = None
    challenge: Challenge | None = None
    last_number: str = ""
    standing: bool = False
    paused_at: float = 0.0
    passed: tuple[Passed, ...] = ()
    met: int = 0
    troubles: tuple[Trouble, ...] = ()
    notes: tuple[Note, ...] = ()
    timers: tuple[Timer, ...] = ()
    people: tuple[str, ...] = ()
    last: tuple[Line, ...] = ()
    last_fixed: bool = False
    unclear: int = 0
    since: tuple[str, ...] = ()
    wrench: str = ""
    kit: KitCheck | None = None
    earlier: tuple[Earlier, ...] = ()

    def step(self, setting: Setting) -> PlannedStep | None:
        """The step that is open or next to open; None when only the release is left."""
        steps = setting.plan.steps
        at = self.progress.queue[0] if self.progress.queue else self.progress.at
        return steps[at] if at < len(steps) else None

    def open_troubles(self) -> tuple[Trouble, ...]:
        """Troubles not yet cleared."""
        return tuple(t for t in self.troubles if not t.cleared)
