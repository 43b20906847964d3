"""One job that is talked to at random: every transition is counted and judged as it happens."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from assistant import shelf
from assistant.checklist.expand import expand, option_sets
from assistant.checklist.loader import Loaded, load
from assistant.job.admit import admitted, fillers, fractions
from assistant.job.effects import Close, Line
from assistant.job.events import Event, Heard, Opened, Stamp, Unclear
from assistant.job.machine import advance
from assistant.job.state import JobState, Mode, Setting
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.intent import Intent
from assistant.opening import setting_of
from tests.job.bench import ALL_HAZARDS, ROSTER, SLOTS, Bench
from tests.job.echo import WORDS
from tests.job.talk.explored import Explored
from tests.job.talk.hazard_ledger import HazardLedger
from tests.job.talk.looks import look
from tests.job.talk.plans import made_up
from tests.job.talk.read_backs import ReadBacks, repeats

JOB = "20260302-100000"
SHIPPED = ("raised-handlebar", "battery-replacement", "clutch-cable-adjustment")
READY = frozenset(
    {
        Mode.KIT,
        Mode.STANDING,
        Mode.PACE_CHECK,
        Mode.HOLD_CHECK,
        Mode.READING_CHECK,
        Mode.STOP,
        Mode.STOP_SECOND,
        Mode.SECOND_PERSON,
        Mode.HOLDING,
        Mode.STEP,
        Mode.FROZEN,
        Mode.STAND_BY,
    }
)
"""Modes in which there is a right answer."""


@dataclass(frozen=True, slots=True)
class Scene:
    """Where a dialogue takes place: a checklist with its options, and people.

    Attributes:
        kind: "small" (the bench's own), a shipped checklist's name, "made up" or "spoiled".
        number: which choice of options; for made-up ones which checklist.
        kit: the kit is checked first.
    """

    kind: str
    number: int = 0
    who: str = "mara"
    second: str | None = "tobin"
    apprentices: frozenset[str] = frozenset()
    kit: bool = False

    def loaded(self) -> Loaded:
        """The checklist."""
        return _loaded(self.kind, self.number)

    def setting(self) -> Setting:
        """The job's fixed setting."""
        return replace(_setting(self.kind, self.number), apprentices=self.apprentices)


@lru_cache(maxsize=256)
def _loaded(kind: str, number: int) -> Loaded:
    if kind == "small":
        return load({"small.yaml": ALL_HAZARDS}, "small.yaml")
    if kind in SHIPPED:
        return shelf.load_checklist(shelf.find_checklist(kind))
    return made_up(number // 4, spoiled=kind == "spoiled")


@lru_cache(maxsize=256)
def _setting(kind: str, number: int) -> Setting:
    loaded = _loaded(kind, number)
    sets = list(option_sets(loaded, 4))
    return setting_of(expand(loaded, sets[number % len(sets)]), ROSTER)


class Talker(Bench):
    """A job with its judges; what happens to it is counted."""

    def __init__(self, scene: Scene, explored: Explored) -> None:
        self.scene = scene
        self.explored = explored
        self.via = "voice"
        self.repeat = False
        self.earlier: tuple[Line, ...] = ()
        self._number = 10
        fixed = scene.setting()
        self.read_backs = ReadBacks(fixed.roster, scene.apprentices)
        self.ledger = HazardLedger()
        super().__init__(fixed, opened=False)
        self.from_state, self.from_event = self.state, 0
        self.happens(Opened(self.stamp(), JOB, "WREN 7", scene.who, scene.second, scene.kit))

    def stamp(self) -> Stamp:
        """Now, with the next number, or the last one given over again."""
        if not self.repeat or self.state.challenge is None:
            self._number = (self._number - 10 + 37) % 90 + 10
        else:
            self._number = int(self.state.challenge.number)
        second = int(self.now) % 60
        wall = f"2026-03-02T10:{int(self.now) // 60 % 60:02d}:{second:02d}.000Z"
        return Stamp(wall, self.now, self._number)

    def hear(self, name: str, /, **slots: str) -> tuple[str, ...]:
        """An intent is heard or typed."""
        intent = Intent(name, tuple(slots.items()), name)
        return self.happens(Heard(self.stamp(), intent, self.via))

    def happens(self, event: Event) -> tuple[str, ...]:
        """One event: counted, and looked at from all sides."""
        old = self.state
        self.earlier = self.lines() or self.earlier
        said = super().happens(event)
        new = self.state
        self.explored.took(old, event, new)
        closing = Close("released") in self.effects
        assert closing is (new.mode is Mode.RELEASED and old.mode is not Mode.RELEASED)
        if old.mode is Mode.RELEASED:
            told = (
                replace(new, timers=old.timers),
                {line.key for line in self.lines()} - {"timer.over"},
            )
            assert told == (old, set()), "something happened after the release"
            return said
        self._judge(old, event, new)
        look(self.setting, old, new, event)
        return said

    def _judge(self, old: JobState, event: Event, new: JobState) -> None:
        """The two judges that know nothing of the job's own rules."""
        lines, done, was = self.lines(), new.progress.done, old.progress.done
        self.read_backs.saw(event, lines)
        freezing = new.mode is Mode.FROZEN and old.mode is not Mode.FROZEN
        self.ledger.saw(event, () if repeats(event) else lines, frozen=freezing)
        if old.mode is Mode.STAND_BY and new.mode not in (Mode.STAND_BY, Mode.FROZEN):
            self.ledger.carried_on(event.at.mono)
        if old.mode is Mode.FROZEN and new.mode is not Mode.FROZEN:
            self.read_backs.unfrozen()
        assert len(new.passed) >= len(old.passed)
        for entry in new.passed[len(old.passed) :]:
            self.read_backs.passed(entry)
            self.ledger.passed(entry.stop, old.step(self.setting))
        if len(done) < len(was):
            assert done == was[: len(done)]
            self.ledger.undone(len(done))
        for confirmed in done[len(was) :]:
            planned = old.step(self.setting)
            assert planned is not None
            assert planned.id == confirmed.step
            self.read_backs.done(confirmed)
            self.ledger.done(planned)

    def copy(self) -> Talker:
        """The same job, to go on from here more than once."""
        other = object.__new__(Talker)
        other.__dict__.update(self.__dict__)
        other.events = list(self.events)
        other.read_backs, other.ledger = self.read_backs.copy(), self.ledger.copy()
        other.from_state, other.from_event = self.state, len(self.events)
        return other

    def replayed(self) -> JobState:
        """The state again from the events since the copy was made (or the job began)."""
        state = self.from_state
        for event in self.events[self.from_event :]:
            state, _ = advance(self.setting, state, event)
        return state

    def grammar(self) -> Grammar:
        """What may be said now."""
        return grammar_of(self.setting, self.state)

    def take_as_heard(self, text: str) -> str:
        """Words reach the recogniser: what they mean by the grammar of now happens.

        Returns:
            The name of the intent; empty when they mean nothing here.
        """
        intent = self.grammar().match(text)
        if intent is None:
            self.happens(Unclear(self.stamp(), text))
            return ""
        self.happens(Heard(self.stamp(), intent, self.via))
        return intent.name

    def can_answer(self) -> bool:
        """Whether there is a right answer now."""
        return self.state.mode in READY

    def hear_any(self, intent: str) -> tuple[str, ...]:
        """An intent is heard, its slots filled with something that makes sense somewhere."""
        return self.hear(intent, **SLOTS.get(intent, {}))


_GRAMMARS: dict[object, Grammar] = {}


def grammar_of(setting: Setting, state: JobState) -> Grammar:
    """The grammar of a state, compiled once for each that differs (the roster is always one)."""
    names, filled = admitted(setting, state), fillers(setting, state)
    fraction = fractions(setting, state)
    tables = (tuple(filled.get(slot, {}).items()) for slot in ("read_back", "unit"))
    key = (names, fraction, *tables)
    if key not in _GRAMMARS:
        _GRAMMARS[key] = build_grammar(WORDS.book, names, filled, fractions=fraction)
    return _GRAMMARS[key]


class Road:
    """The way through a job without trouble, walked once; dialogues leave it anywhere."""

    def __init__(self, scene: Scene, explored: Explored) -> None:
        self._places = [Talker(scene, explored)]
        self._going = True

    def place(self, far: int) -> Talker:
        """A copy of the job after so many right answers, or at the end of the way."""
        while self._going and len(self._places) <= far:
            self._go()
        return self._places[min(far, len(self._places) - 1)].copy()

    def _go(self) -> None:
        here = self._places[-1].copy()
        before = here.state
        if before.mode in READY:
            here.answer()
        moved = (here.state.progress, here.state.mode, len(here.state.passed))
        self._going = moved != (before.progress, before.mode, len(before.passed))
        if self._going and here.state.mode is not Mode.RELEASED:
            self._places.append(here)
        else:
            self._going = False


def fragments(text: str) -> Iterator[str]:
    """Every run of words of a text."""
    words = text.split()
    for begin in range(len(words)):
        for end in range(begin + 1, len(words) + 1):
            yield " ".join(words[begin:end])
