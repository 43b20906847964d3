"""A job with every kind of read-back, by voice, through the real hearing path.

It holds all seven stops, a second person's read-back and a freeze; the steps in between are typed.
The bay, the ear, the engine, the voice, the microphone's half duplex and the record are the
product's, and the microphone hears the loudspeaker all the time. What is tried at a read-back is
in `stop_tries`; `python -m tests.end_to_end.stop_table` prints what became of it.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from assistant.bay import Bay
from assistant.checklist.loader import load
from assistant.hearing.ear import Ear, Heard, Nothing
from assistant.hearing.engines import Engine
from assistant.hearing.lines import Grammar
from assistant.hearing.room import Room
from assistant.hearing.source import RATE
from assistant.job.admit import read_back_wanted
from assistant.job.events import Event, Opened
from assistant.job.events import Heard as HeardEvent
from assistant.job.flow import CHALLENGES
from assistant.job.machine import replay
from assistant.job.state import JobState, Mode
from assistant.language.numbers import digits
from assistant.opening import OpenJob, open_job
from assistant.packaged import numbers_of
from assistant.ports import Ports
from assistant.record.chain import Chain
from assistant.record.folder import JOURNAL
from assistant.record.keeper import events_in
from assistant.rehearsal.cast import Cast
from assistant.rehearsal.script import Person
from assistant.rehearsal.technician import Technician
from assistant.speaking.renderer import Renderer
from tests.end_to_end.loud_room import LoudMouth, LoudRoom
from tests.end_to_end.stop_verdict import Try, nearest, passed, told, verdict
from tests.job.bench import ALL_HAZARDS
from tests.rehearsal.stage import demo

HELD_OUT = ("flite-rms", "neural-nezumi", "espeak-f2")
STOPS = (
    "battery_off",
    "fuel_open",
    "fuel_closed",
    "brake_open",
    "brake_proven",
    "battery_on",
    "release",
)
PLACES = (*STOPS, "second_person", "freeze")
TRIES = 5
_MOST_TURNS = 500
_PATIENCE_S = 2.0
_GAP_S = 0.35
_OLD_S = 40.0
"""A number older than this is replaced before the next try, so that no refusal comes from its age
(it lives for 120 s): the longest prompt, said twice, takes 70 s."""


class _Listener(Ear):
    """The product's ear; remembers every utterance."""

    def begin_list(self) -> None:
        """Forget what was heard so far."""
        self.utterances: list[Heard] = []

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """See `Ear.hear`."""
        heard = super().hear(grammar, patience_s, going)
        if isinstance(heard, Heard):
            self.utterances.append(heard)
        return heard


class _Clock:
    """The room's time, and the time that work takes."""

    def __init__(self, room: LoudRoom) -> None:
        self._room = room
        self._began = datetime.now(UTC)
        self.worked = 0.0

    def mono(self) -> float:
        """Seconds."""
        return round(self._room.now + self.worked, 3)

    def wall(self) -> str:
        """RFC 3339, UTC."""
        at = self._began + timedelta(seconds=self.mono())
        return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


class VoiceJob:
    """One job in a loud room, with typed steps and spoken read-backs.

    Args:
        folder: of all jobs.
        engine: the recogniser.
        renderer: the assistant's voice.
        other: a voice for people who say what no recording holds.
        seed: of the challenge numbers.
        room: where it is; quiet if left out.
    """

    def __init__(
        self,
        folder: Path,
        engine: Engine,
        renderer: Renderer,
        other: Renderer,
        *,
        seed: int,
        room: Room | None = None,
    ) -> None:
        script = demo().without_moments("small")
        roster = {person: known.name for person, known in script.people.items()}
        loaded = load({"small.yaml": ALL_HAZARDS}, "small.yaml")
        begun = ("2026-03-02T10:00:00.000Z", 0.0)
        self.job: OpenJob = open_job(
            loaded, {}, roster, now=begun, engine=engine.name, jobs=folder, job=f"stops-{seed}"
        )
        self.room = LoudRoom(room)
        self.mouth = LoudMouth(renderer, self.room)
        self.ear = _Listener(self.room, engine)
        self.ear.begin_list()
        self.acted: list[Event] = []
        self._clock = _Clock(self.room)
        self._cast = Cast({v: Person(name=v, voice=v) for v in HELD_OUT}, other)
        numbers = random.Random(seed)  # noqa: S311 - the same in every run
        ports = Ports(
            mouth=self.mouth,
            keeper=self.job.keeper,
            clock=self._clock,
            fresh=lambda: numbers.choice(CHALLENGES),
            show=lambda _text: None,
            ear=self.ear,
            acted=self.acted.append,
        )
        self.bay = Bay(self.job.setting, self.job.words, ports, JobState())
        self._technician = Technician(self.job.setting, self.job.words.book, script)
        self.bay.begin(
            lambda: Opened(self.bay.stamp(), self.job.folder.name, "WREN 7", "mara", "tobin")
        )

    def close(self) -> None:
        """Give the record back."""
        self.job.keeper.journal.close()

    @property
    def waits_for(self) -> str:
        """Which read-back is waited for, or ""."""
        wanted = read_back_wanted(self.job.setting, self.bay.state)
        return wanted[0] if wanted is not None and self.bay.state.challenge is not None else ""

    @property
    def number(self) -> str:
        """The live number."""
        number = self._number_now()
        assert number, "no number is asked"
        return number

    def _number_now(self) -> str:
        challenge = self.bay.state.challenge
        return challenge.number if challenge is not None else ""

    def words(self, place: str) -> str:
        """The read-back words of a place."""
        return self.job.setting.stops.read_backs()[place][0]

    def spoken(self, voice: str, words: str, number: str = "") -> bytes:
        """This voice saying words and a number."""
        said = f"{words} {digits(number, numbers_of('en'))}" if number else words
        return self._cast.line(voice, said.strip())

    def type(self, words: str) -> None:
        """A line is typed."""
        intent = self.bay.typed_intent(words)
        assert intent is not None, f"{words!r} at {self.bay.state.mode}"
        self.bay.handle(HeardEvent(self.bay.stamp(), intent, "typed"))

    def work_on(self) -> None:
        """The technician's next line is typed, or time passes; a misheard alarm is cleared."""
        state = self.bay.state
        if state.mode is Mode.BEFORE_RELEASE and state.open_troubles():
            self.type("trouble is cleared")
            return
        turn = self._technician.next_turn(self.bay.state)
        self._clock.worked += turn.work_s
        if turn.words:
            self.type(turn.words)
            self._technician.said(turn)
        else:
            self.bay.turn(0.1)

    def go_to(self, place: str) -> None:
        """Work until this read-back is waited for."""
        for _ in range(_MOST_TURNS):
            if self.waits_for == place:
                return
            self.work_on()
        raise AssertionError(f"{place} is never waited for")

    def places(self) -> Iterator[str]:
        """Every read-back of the job once, when it is waited for; a freeze at the first step."""
        seen: set[str] = set()
        for _ in range(_MOST_TURNS):
            if self.bay.state.mode is Mode.RELEASED:
                return
            here = self.waits_for
            if here and here not in seen:
                seen.add(here)
                yield here
                continue
            if self.bay.state.mode is Mode.STEP and "freeze" not in seen:
                self.type("hold everything")
            self.work_on()
        raise AssertionError(f"the job goes round in circles ({self.bay.state.mode})")

    def prompt(self) -> tuple[str, bytes]:
        """What the assistant said last, and its sound at 16 kHz."""
        text, sound = self.mouth.sounds[-1]
        return text, sound.at_rate(RATE).pcm

    def on_record(self) -> JobState:
        """The state that the journal on the disk replays to."""
        with (self.job.folder / JOURNAL).open("rb") as file:
            entries = list(Chain(file, self.job.folder.name))
        return replay(self.job.setting, events_in(self.job.folder.name, entries))

    def sounds(self, case: str, sound: str, pcm: bytes, *, during: str = "") -> Try:
        """Let this sound, and see what becomes of it.

        Args:
            case: kind of try.
            sound: what it is, in words.
            pcm: 16 kHz mono s16le; empty for silence.
            during: a line that is typed as it begins, so that the assistant speaks over it.
        """
        place = self.waits_for
        before, asked = self.bay.state, self.number
        self.ear.begin_list()
        acted = len(self.acted)
        if pcm:
            self.room.speak(pcm, 0.0 if during else _GAP_S)
        if during:
            self.type(during)
            acted += 1
        while self.bay.turn(_PATIENCE_S) and self.waits_for == place:
            if not self.room.speaking:
                break
        while self.room.speaking:
            self.bay.turn(_PATIENCE_S)
        words = f"{self.words(place)} {digits(asked, numbers_of('en'))}"
        tried = Try(
            place=place,
            case=case,
            sound=sound,
            asked=asked,
            passed=passed(before, self.bay.state),
            verdict=verdict(place, asked, before, self.bay.state, self.acted[acted:]),
            fresh=self._number_now() not in ("", asked),
            heard=tuple(told(each) for each in self.ear.utterances),
            nearest=nearest(words, self.ear.utterances),
            pcm=pcm,
        )
        if not tried.passed:
            self.go_to(place)
            self._young_number()
        return tried

    def _young_number(self) -> None:
        challenge = self.bay.state.challenge
        assert challenge is not None
        if self._clock.mono() - challenge.issued < _OLD_S:
            return
        wrong = next(n for n in CHALLENGES if str(n) != challenge.number)
        self.type(f"{self.words(self.waits_for)} {digits(str(wrong), numbers_of('en'))}")
