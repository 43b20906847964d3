"""Plays a whole job: the technician's lines go through the product's own ear, bay and record."""

from __future__ import annotations

import secrets
import statistics
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from assistant.bay import Bay
from assistant.errors import BadInput
from assistant.hearing.ear import Ear, Heard, Nothing
from assistant.hearing.lines import Grammar
from assistant.hearing.room import Room
from assistant.hearing.source import RATE
from assistant.job.events import Event, Opened, Unclear
from assistant.job.events import Heard as HeardEvent
from assistant.job.flow import CHALLENGES
from assistant.job.state import Mode
from assistant.job.summary import confirmed_steps, open_things, status
from assistant.language.intent import Intent
from assistant.opening import OpenJob
from assistant.ports import Ports
from assistant.rehearsal.cast import Cast
from assistant.rehearsal.script import Script
from assistant.rehearsal.technician import Technician, Turn
from assistant.speaking.file_mouth import FileMouth
from assistant.speaking.speech import Speech

_TRIES = 5
"""A line that was not understood this often is given by the keys, as the product offers."""

_MOST_TURNS = 150
"""Without getting a step further: more than the longest scripted step takes in heavy noise."""

_PATIENCE_S = 3.0
_GAP_S = 0.35


class RehearsalClock:
    """Time in a rehearsal: it starts now, and work takes the time it is said to take."""

    def __init__(self) -> None:
        self._began = datetime.now(UTC)
        self._mono = 0.0

    def pass_time(self, seconds: float) -> None:
        """Let time go by."""
        self._mono += seconds

    def mono(self) -> float:
        """Seconds since the rehearsal began."""
        return round(self._mono, 3)

    def wall(self) -> str:
        """RFC 3339, UTC, milliseconds."""
        now = self._began + timedelta(seconds=self._mono)
        return now.isoformat(timespec="milliseconds").replace("+00:00", "Z")


@dataclass
class Count:
    """What became of the lines."""

    spoken: int = 0
    understood: int = 0
    asked_again: int = 0
    wrong: int = 0
    by_keys: int = 0
    latencies_ms: list[float] = field(default_factory=list)
    mistakes: list[str] = field(default_factory=list)


class WatchedEar(Ear):
    """The product's ear; remembers the last utterance, for the figures."""

    last: Heard | None = None

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """Wait for one utterance; see `Ear.hear`."""
        heard = super().hear(grammar, patience_s, going)
        self.last = heard if isinstance(heard, Heard) else None
        return heard


class Rehearsal:
    """One job played from beginning to end.

    Args:
        job: opened and empty.
        script: what the people say.
        cast: their voices.
        ear: the product's ear in this room.
        room: where lines are spoken.
        mouth: renders the prompts.
        clock: the one that the job was opened by.
        show: takes each line of the dialogue as text.
        realtime: the room keeps real time, so a line is heard while it is said.
        kit: the kit is checked first.
        at_work: told who is at work; see `Ports`.
    """

    def __init__(  # noqa: PLR0913 - one place where a rehearsal's parts are joined
        self,
        job: OpenJob,
        script: Script,
        *,
        cast: Cast,
        ear: WatchedEar,
        room: Room,
        mouth: FileMouth,
        clock: RehearsalClock,
        show: Callable[[str], None],
        realtime: bool = False,
        kit: bool = False,
        at_work: Callable[[str], None] | None = None,
    ) -> None:
        self.count = Count()
        self._job_id = job.folder.name
        self._script = script
        self._cast = cast
        self._ear = ear
        self._room = room
        self._mouth = mouth
        self._show = show
        self._realtime = realtime
        self._kit = kit
        self._clock = clock
        self._event: Event | None = None
        self._repeated = ""
        self._attempts = 0
        ports = Ports(
            mouth=mouth,
            keeper=job.keeper,
            clock=self._clock,
            fresh=lambda: secrets.choice(CHALLENGES),
            show=lambda text: show(f"  assistant: {text}"),
            ear=ear,
            acted=self._note_event,
            at_work=at_work or (lambda _person: None),
        )
        self.bay = Bay(job.setting, job.words, ports, job.state)
        self._technician = Technician(job.setting, job.words.book, script)

    def _note_event(self, event: Event) -> None:
        self._event = event

    def play(self) -> None:
        """Play until the job is released.

        Raises:
            BadInput: the script says something that cannot be said where it says it, or the
                dialogue goes round in circles.
        """
        script = self._script
        stamp = self.bay.stamp()
        people = (script.who, script.second)
        opened = Opened(stamp, self._job_id, script.vehicle, *people, self._kit)
        self.bay.handle(opened)
        before: tuple[object, ...] = ()
        turns = 0
        while self.bay.state.mode is not Mode.RELEASED:
            state = self.bay.state
            now = (state.progress.at, len(state.progress.queue), len(state.passed))
            turns = turns + 1 if now == before else 0
            before = now
            if turns == _MOST_TURNS:
                at = state.step(self.bay.setting)
                where = f'at step "{at.id}"' if at is not None else "before the release"
                msg = f"the rehearsal goes round in circles {where} ({state.mode})"
                raise BadInput(msg)
            self._turn()

    def _turn(self) -> None:
        turn = self._technician.next_turn(self.bay.state)
        self._clock.pass_time(turn.work_s)
        if not turn.words:
            self.bay.turn(0.1)
            return
        if turn.note:
            self._dictate(turn)
            return
        meant = self.bay.grammar().match(turn.words)
        if meant is None and self.count.wrong:
            self._technician.drop_script()  # a mishearing has led elsewhere; answer what is asked
            return
        if meant is None:
            msg = f'"{turn.words}" can\'t be said here ({self.bay.state.mode})'
            raise BadInput(msg)
        if turn.words != self._repeated:
            self._repeated, self._attempts = turn.words, 0
        if self._attempts == _TRIES:
            self._by_keys(turn, meant)
        elif self._say(turn, meant):
            self._technician.said(turn)
        else:
            self._attempts += 1
            return
        self._repeated = ""

    def _say(self, turn: Turn, meant: Intent) -> bool:
        """Say the line once; True when it was understood."""
        self.count.spoken += 1
        name = self._script.people[turn.who].name
        self._show(f"{name}: {turn.words}" + (" (again)" if self._attempts else ""))
        self._utter(turn.who, turn.words)
        self._event = None
        self.bay.turn(_PATIENCE_S)
        return self._judge(meant)

    def _utter(self, who: str, words: str) -> None:
        pcm = self._cast.line(who, words)
        self._mouth.add(Speech(pcm, RATE), wait=not self._realtime)
        self._clock.pass_time(len(pcm) / 2 / RATE)
        self._room.speak(pcm, after_s=_GAP_S)

    def _judge(self, meant: Intent) -> bool:
        event = self._event
        if not isinstance(event, HeardEvent):
            self.count.asked_again += 1
            if event is None or isinstance(event, Unclear):
                heard = self._ear.last
                self._show(f"  (not understood: {heard.why if heard else 'nothing heard'})")
            return False
        if (event.intent.name, event.intent.slots) != (meant.name, meant.slots):
            self.count.wrong += 1
            self.count.mistakes.append(f'"{meant.phrase}" acted on as "{event.intent.phrase}"')
            self._show(f"  (WRONG: {self.count.mistakes[-1]})")
            return False
        self.count.understood += 1
        heard = self._ear.last
        if heard is not None:
            self.count.latencies_ms.append(1000 * (heard.decided_s - heard.ended_s))
        return True

    def _by_keys(self, turn: Turn, meant: Intent) -> None:
        self.count.by_keys += 1
        self._show(f"{self._script.people[turn.who].name} types: {turn.words}")
        self.bay.handle(HeardEvent(self.bay.stamp(), meant, "typed"))
        self._technician.said(turn)

    def _dictate(self, turn: Turn) -> None:
        self._show(f"{self._script.people[turn.who].name}: {turn.note} ... {turn.words}")
        self._utter(turn.who, turn.note)
        self._room.speak(self._cast.line(turn.who, turn.words), after_s=1.5)
        self.bay.turn(_PATIENCE_S)
        self._technician.said(turn)


def result(job: OpenJob, played: Rehearsal, engine: str) -> dict[str, Any]:
    """What `rehearse --json` prints."""
    state, setting, count = played.bay.state, played.bay.setting, played.count
    late = sorted(count.latencies_ms)
    return {
        "job": state.job,
        "status": status(state),
        "engine": engine,
        "checklist": {
            "id": setting.plan.checklist,
            "version": setting.plan.version,
            "sha256": setting.plan.sha256,
        },
        "steps": {
            "total": len(setting.plan.steps),
            "confirmed": confirmed_steps(state),
            "left_out": len(state.progress.left_out),
        },
        "safety_stops": {"met": state.met, "passed": len(state.passed)},
        "commands": {
            "spoken": count.spoken,
            "understood": count.understood,
            "asked_again": count.asked_again,
            "wrong": count.wrong,
            "by_keys": count.by_keys,
        },
        "mistakes": count.mistakes,
        "latency_ms": {
            "median": round(statistics.median(late)) if late else None,
            "p95": round(late[int(0.95 * (len(late) - 1))]) if late else None,
        },
        "open": open_things(setting, state),
        "record": str(job.folder),
        "seal": played.bay.seal,
    }
