"""A bay with scripted ports, for the tests of the bay and of what is joined to it."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field

from assistant.bay import Bay
from assistant.job.events import Event, Opened
from assistant.job.state import JobState, Mode
from assistant.language.numbers import digits
from assistant.opening import words_of
from assistant.packaged import numbers_of
from assistant.ports import Ports
from assistant.speaking.testing import ScriptedMouth
from assistant.testing import ScriptedClock, ScriptedEar, ScriptedKeeper, ScriptedKeys
from tests.job.bench import ALL_HAZARDS, setting


def fresh_numbers() -> Iterator[int]:
    """Two-digit numbers, each different from the one before."""
    return itertools.cycle(range(21, 99, 7))


@dataclass
class Shop:
    """One bay of a shop without sound, disk or time.

    Attributes:
        shown: the screen, line by line.
        acted: every event that the bay acted on.
    """

    bay: Bay
    mouth: ScriptedMouth
    keeper: ScriptedKeeper
    clock: ScriptedClock
    keys: ScriptedKeys | None
    ear: ScriptedEar | None
    shown: list[str]
    acted: list[Event]
    numbers: Iterator[int] = field(default_factory=fresh_numbers)

    def open(self, second: str | None = "tobin") -> Shop:
        """Mara opens the job."""
        self.bay.begin(lambda: Opened(self.bay.stamp(), "job-1", "WREN 7", "mara", second))
        return self

    def type(self, *lines: str) -> Shop:
        """These lines are typed, each answered before the next."""
        assert self.keys is not None
        for line in lines:
            self.keys.type(line)
            self.bay.turn(0.0)
        return self

    def say(self, *lines: str) -> Shop:
        """These lines are spoken, each answered before the next."""
        assert self.ear is not None
        for line in lines:
            self.ear.say(line)
            self.bay.turn(0.0)
        return self

    def work(self, seconds: float = 3600.0) -> Shop:
        """Time goes by."""
        self.clock.pass_time(seconds)
        return self

    def mode(self) -> Mode:
        """What the job waits for."""
        return self.bay.state.mode

    def step(self) -> str:
        """The open step."""
        planned = self.bay.state.step(self.bay.setting)
        return planned.id if planned is not None else ""

    def read_back(self) -> str:
        """The words and the number that are wanted now, as spoken."""
        challenge = self.bay.state.challenge
        assert challenge is not None
        wanted = {
            Mode.FROZEN: self.bay.setting.stops.freeze,
            Mode.SECOND_PERSON: self.bay.setting.stops.second_person,
        }.get(self.mode(), "")
        if self.bay.state.stop is not None:
            wanted = self.bay.setting.stops.stops[self.bay.state.stop].read_back
        return f"{wanted} {digits(challenge.number, numbers_of('en'))}"

    def events(self) -> list[str]:
        """Intents and other events that are on record, in order."""
        return [
            str(entry.data["intent"]["name"]) if entry.kind == "heard" else entry.kind
            for entry in self.keeper.entries
            if entry.kind != "said"
        ]


def shop(
    *,
    typed: bool = False,
    spoken: bool = False,
    headset: bool = False,
    text: str = ALL_HAZARDS,
    state: JobState | None = None,
) -> Shop:
    """A bay with keys, an ear, or both."""
    mouth, keeper, clock = ScriptedMouth(), ScriptedKeeper(), ScriptedClock()
    if state is not None:  # its clock runs on
        issued = state.challenge.issued if state.challenge is not None else 0.0
        clock.now = max(state.opened, issued) + 5
    keys = ScriptedKeys() if typed else None
    ear = ScriptedEar() if spoken else None
    shown: list[str] = []
    acted: list[Event] = []
    numbers = fresh_numbers()
    ports = Ports(
        mouth,
        keeper,
        clock,
        lambda: next(numbers),
        shown.append,
        ear=ear,
        keys=keys,
        headset=headset,
        acted=acted.append,
    )
    bay = Bay(setting(text), words_of("en"), ports, state or JobState())
    return Shop(bay, mouth, keeper, clock, keys, ear, shown, acted, numbers)
