"""The person in a rehearsal: looks at what the assistant waits for and says what they would."""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from fractions import Fraction

from assistant.checklist.model import Reading
from assistant.checklist.plan import PlannedStep
from assistant.errors import BadInput
from assistant.job.admit import read_back_wanted
from assistant.job.confirm import (
    latest_reading,
    may_leave_out,
    side_unsaid,
    unread_number,
)
from assistant.job.measure import hold_seconds
from assistant.job.pace import least_seconds
from assistant.job.state import JobState, Mode, Setting
from assistant.language.book import Phrasebook
from assistant.language.number_words import NumberWords
from assistant.language.numbers import digits, parse_number, speak_number, spell
from assistant.rehearsal.script import Script
from assistant.trade.quantity import Quantity, unit_named

_NOTE = "note:"
_AGREE = frozenset(
    {
        Mode.KIT,
        Mode.STANDING,
        Mode.PACE_CHECK,
        Mode.HOLD_CHECK,
        Mode.OFF_CHECK,
        Mode.BACK_CHECK,
        Mode.HAND_OVER,
    },
)


@dataclass(frozen=True, slots=True)
class Turn:
    """What happens next in the shop.

    Attributes:
        who: roster id of who speaks.
        words: the phrase, as it is spoken; empty when only time passes.
        work_s: time that goes by before it, seconds.
        note: free speech that is said before the words (a note), or empty.
    """

    who: str
    words: str
    work_s: float = 0.0
    note: str = ""


class Technician:
    """Chooses the next turn from the job's state and the script.

    `said` tells it that its last line was understood, so that a line not heard is repeated.
    """

    def __init__(self, setting: Setting, book: Phrasebook, script: Script) -> None:
        if book.numbers is None:
            msg = f'the phrasebook "{book.language}" has no number words'
            raise BadInput(msg)
        self._setting = setting
        self._book = book
        self._numbers: NumberWords = book.numbers
        self._script = script
        self._moments = {moment.step: deque(moment.say) for moment in script.moments}
        unknown = self._moments.keys() - {planned.id for planned in setting.plan.steps}
        if unknown:
            msg = f"the script names steps that this job does not have: {', '.join(unknown)}"
            raise BadInput(msg)
        self._active: deque[str] = deque()
        self._seen: set[str] = set()

    def next_turn(self, state: JobState) -> Turn:
        """What is said now."""
        planned = state.step(self._setting)
        if state.mode is Mode.STEP and planned is not None and planned.id not in self._seen:
            self._seen.add(planned.id)
            self._active = self._moments.get(planned.id, deque())
        if self._active:
            return self._scripted(state)
        return self._as_asked(state)

    def said(self, turn: Turn) -> None:
        """The turn's line was understood: a scripted one is not said again."""
        if not self._active:
            return
        head = self._active[0]
        if turn.note or self._line(head) == turn.words:
            self._active.popleft()

    def drop_script(self) -> None:
        """Leave the rest of this step's scripted lines unsaid."""
        self._active.clear()

    def _line(self, text: str) -> str:
        return self._book.taught("end_note") if text.startswith(_NOTE) else text

    def _scripted(self, state: JobState) -> Turn:
        head = self._active[0]
        if head.startswith(_NOTE):
            return Turn(state.who, self._line(head), note=head.removeprefix(_NOTE).strip())
        who = state.who
        if state.mode is Mode.HAND_OVER and state.pending.to is not None:
            who = state.pending.to
        return Turn(who, head, work_s=2.0)

    def _as_asked(self, state: JobState) -> Turn:
        if state.mode in _AGREE:
            who = state.pending.to if state.mode is Mode.HAND_OVER else None
            return Turn(who or state.who, self._book.taught("affirm"))
        wanted = read_back_wanted(self._setting, state)
        if wanted is not None and state.challenge is not None:
            second = state.mode in (Mode.SECOND_PERSON, Mode.STOP_SECOND)
            who = state.second if second else None
            number = digits(state.challenge.number, self._numbers)
            return Turn(who or state.who, f"{wanted[1]} {number}", work_s=5.0)
        answers = {
            Mode.STEP: self._at_step,
            Mode.PART_NUMBER: self._part_number,
            Mode.READING_CHECK: self._reading_check,
            Mode.HOLDING: self._holding,
            Mode.REASON: self._reason,
            Mode.NOTE: self._dictate,
            Mode.TROUBLE_NOTE: self._dictate,
            Mode.OFF_LABEL: self._dictate,
            Mode.FROZEN: self._carry_on,
            Mode.STAND_BY: self._carry_on,
            Mode.BEFORE_RELEASE: self._carry_on,
        }
        return answers.get(state.mode, self._disregard)(state)

    def _holding(self, state: JobState) -> Turn:
        return Turn(state.who, "", work_s=hold_seconds(self._setting, state))

    def _reason(self, state: JobState) -> Turn:
        return Turn(state.who, self._book.slots["reason"]["not-needed"][0])

    def _dictate(self, state: JobState) -> Turn:
        return Turn(state.who, self._book.taught("end_note"), note="as I see it here")

    def _carry_on(self, state: JobState) -> Turn:
        return Turn(state.who, self._book.taught("carry_on"), work_s=5.0)

    def _disregard(self, state: JobState) -> Turn:
        return Turn(state.who, self._book.taught("disregard"))

    def _at_step(self, state: JobState) -> Turn:
        planned = state.step(self._setting)
        if planned is None:
            return Turn(state.who, self._book.taught("carry_on"))
        if planned.id in self._script.leave_out and may_leave_out(planned):
            return Turn(state.who, self._book.taught("leave_out"))
        for reading in planned.step.readings:
            taken = latest_reading(state, planned.id, reading.name)
            if taken is None or not taken.within:
                number, unit = self._measured(reading)
                words = f"reading {number} {self._unit_words(unit)}"
                return Turn(state.who, words, work_s=10.0)
        first = self._said_first(state, planned)
        if first is not None:
            return first
        work = max(least_seconds(planned), planned.step.minutes * 30) + 1
        return Turn(state.who, self._book.taught("step_done"), work_s=work)

    def _said_first(self, state: JobState, planned: PlannedStep) -> Turn | None:
        """The side, the part's number or the start of a hold, where the step wants it."""
        if side_unsaid(state, planned):
            side = self._book.slots["side"][planned.step.side or ""][0]
            words = self._book.taught("name_side").replace("<side>", side)
            return Turn(state.who, words, work_s=2.0)
        if unread_number(state, planned) is not None:
            return Turn(state.who, self._book.taught("read_part_number"), work_s=5.0)
        if planned.step.hold is not None and not state.progress.held:
            return Turn(state.who, self._book.taught("start_hold"), work_s=5.0)
        return None

    def _part_number(self, state: JobState) -> Turn:
        """The number of the part in hand: the one that is wanted."""
        planned = state.step(self._setting)
        part = unread_number(state, planned) if planned is not None else None
        if part is None or part.number is None:
            return Turn(state.who, self._book.taught("disregard"))
        return Turn(state.who, spell(part.number.replace("-", ""), self._numbers), work_s=5.0)

    def _measured(self, reading: Reading) -> tuple[str, str]:
        """The number as spoken, and the unit's symbol: from the script, else within limits.

        A scripted number may be for other options than this job's, where other limits hold.
        """
        words = self._script.readings.get(reading.name)
        value = parse_number(words, self._numbers) if words is not None else None
        if words is not None and value is not None and _within(reading, value):
            return words, reading.unit
        return speak_number(_inside(reading), self._numbers), reading.unit

    def _unit_words(self, symbol: str) -> str:
        return self._book.slots["unit"][symbol][0]

    def _reading_check(self, state: JobState) -> Turn:
        """Affirm only the value that was meant: a misheard one is refused, as a person would."""
        wanted, value = state.pending.reading, state.pending.value
        right = wanted is not None and value is not None and self._meant(wanted, value)
        return Turn(state.who, self._book.taught("affirm" if right else "negative"))

    def _meant(self, reading: Reading, value: Quantity) -> bool:
        words, unit = self._measured(reading)
        number = parse_number(words, self._numbers)
        return number is not None and Quantity(number, unit_named(unit)) == value


def _limits(reading: Reading) -> tuple[Fraction | None, Fraction | None]:
    unit = unit_named(reading.unit)
    low = reading.at_least.to(unit).value if reading.at_least is not None else None
    high = reading.at_most.to(unit).value if reading.at_most is not None else None
    return low, high


def _within(reading: Reading, value: Fraction) -> bool:
    low, high = _limits(reading)
    return (low is None or value >= low) and (high is None or value <= high)


def _inside(reading: Reading) -> Fraction:
    """A value inside the limits, in the reading's unit."""
    low, high = _limits(reading)
    if low is not None and high is not None:
        return _as_a_gauge_shows(reading, (low + high) / 2, places=1)
    one = low if low is not None else high
    return Fraction(1) if one is None else _as_a_gauge_shows(reading, one, places=0)


def _as_a_gauge_shows(reading: Reading, value: Fraction, places: int) -> Fraction:
    """The value to as few decimals as keep it within the limits, at least this many."""
    for more in range(places, places + 5):
        shown = Fraction(round(value * 10**more), 10**more)
        if _within(reading, shown):
            return shown
    return value
