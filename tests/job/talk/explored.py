"""What the random dialogues have been through: counted, so that it can be shown and asked for."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field

from assistant.job.events import Dictated, Event, Heard, Opened, Resumed, Tick
from assistant.job.state import JobState, Mode
from assistant.job.table import DICTATED, OPENED, RESUMED, TABLE, TICK
from assistant.safety.hazards import Stop

_SORTS = ("crash", "undo", "hand_over", "break_off", "type_line", "right_but_misheard", "measure")
"""Rules without which a run explored too little."""


def event_name(event: Event) -> str:
    """The event as the transition table names it; "(unclear)" for what is in no table."""
    if isinstance(event, Heard):
        return event.intent.name
    for kind, name in ((Opened, OPENED), (Resumed, RESUMED), (Dictated, DICTATED), (Tick, TICK)):
        if isinstance(event, kind):
            return name
    return "(unclear)"


@dataclass
class Explored:
    """Counts over all dialogues of a run.

    Attributes:
        steps: events that reached `advance` in a dialogue.
        rows: (mode, event) -> how often.
        led: (mode, event, mode after) for rows of the table.
        rules: what was done, by the name of the rule.
        passed: safety stops passed, by name.
        refused: read-backs that were wrong on purpose and passed nothing.
        heard: things of the assistant's own that were taken as heard.
        dialogues: a fingerprint of each different dialogue.
    """

    steps: int = 0
    rows: Counter[tuple[Mode, str]] = field(default_factory=Counter)
    led: set[tuple[Mode, str, Mode]] = field(default_factory=set)
    rules: Counter[str] = field(default_factory=Counter)
    passed: Counter[str] = field(default_factory=Counter)
    refused: int = 0
    heard: int = 0
    released: int = 0
    rounds: int = 0
    dialogues: set[int] = field(default_factory=set)

    def took(self, old: JobState, event: Event, new: JobState) -> None:
        """One transition."""
        self.steps += 1
        row = (old.mode, event_name(event))
        self.rows[row] += 1
        if row in TABLE:
            self.led.add((*row, new.mode))
        for entry in new.passed[len(old.passed) :]:
            self.passed[entry.stop if entry.second is None else f"{entry.stop} by two"] += 1
        self.released += new.mode is Mode.RELEASED and old.mode is not Mode.RELEASED

    def ended(self, events: Sequence[Event]) -> None:
        """A dialogue is over."""
        self.dialogues.add(hash(tuple((event_name(event), event.at) for event in events)))

    @property
    def admitted(self) -> int:
        """Steps that the transition table admits."""
        return sum(count for row, count in self.rows.items() if row in TABLE)

    def lacks(self) -> tuple[str, ...]:
        """What a run must have met and this one has not: each stop, and what can go wrong."""
        stops = {stop.removesuffix(" by two") for stop in self.passed}
        absent = [stop.value for stop in Stop if stop.value not in stops]
        absent += [rule for rule in _SORTS if not self.rules[rule]]
        if not any(stop.endswith(" by two") for stop in self.passed):
            absent.append("a stop read back by two")
        if not self.refused or not self.heard:
            absent.append("wrong read-backs and own lines")
        return tuple(absent)

    def missing(self) -> tuple[tuple[Mode, str], ...]:
        """Rows of the table that were never taken."""
        return tuple(sorted(TABLE.keys() - self.rows.keys()))

    def add(self, other: Explored) -> None:
        """Everything of another run too."""
        self.steps += other.steps
        self.refused += other.refused
        self.heard += other.heard
        self.released += other.released
        self.led |= other.led
        self.rounds += other.rounds
        self.dialogues |= other.dialogues
        self.rows.update(other.rows)
        self.rules.update(other.rules)
        self.passed.update(other.passed)

    def told(self) -> str:
        """One line of it all."""
        modes = len({mode for mode, _ in self.rows})
        rows = len(TABLE) - len(self.missing())
        return (
            f"{self.steps:,} steps ({self.admitted:,} admitted by the table) "
            f"in {len(self.dialogues):,} different dialogues, "
            f"{sum(self.rules.values()):,} rules of {len(self.rules)} kinds, "
            f"{modes} of {len(Mode)} modes, {rows} of {len(TABLE)} rows of the table, "
            f"{sum(self.passed.values()):,} stops passed, "
            f"{self.refused:,} wrong read-backs refused, {self.heard:,} own lines heard, "
            f"{self.rules['crash']:,} crashes, {self.released:,} releases"
        )
