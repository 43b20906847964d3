"""A live job: microphone, loudspeaker and keys joined to the bay."""

from __future__ import annotations

import argparse
import secrets
import sys
import time
from collections.abc import Callable

from assistant.bay import Bay, Ports
from assistant.checking import check_loaded
from assistant.checklist.loader import Loaded
from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, tell
from assistant.engines import open_engine
from assistant.errors import AudioUnavailable, BadFile
from assistant.hearing.ear import Ear
from assistant.hearing.engines import Engine
from assistant.hearing.keys import KeyboardKeys
from assistant.hearing.microphone import Microphone
from assistant.job.effects import line
from assistant.job.events import Event
from assistant.job.state import Mode
from assistant.language.grammar import build_grammar
from assistant.opening import OpenJob
from assistant.record.journal import now
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.mouth import VoiceMouth
from assistant.speaking.renderer import Renderer


class LiveClock:
    """The machine's own clocks."""

    def wall(self) -> str:
        """RFC 3339, UTC."""
        return now()[0]

    def mono(self) -> float:
        """Seconds that never step back."""
        return round(time.monotonic(), 3)


def refuse_if_unsound(loaded: Loaded) -> None:
    """No job begins on a checklist that `check` finds errors in.

    Raises:
        BadFile: with the findings.
    """
    checked = check_loaded(loaded)
    if not checked.ok:
        raise BadFile(tuple(f for f in checked.findings if f.level == "error"))


def engine_for(given: argparse.Namespace) -> Engine | None:
    """The recogniser asked for; None when there is no microphone to listen with."""
    return None if given.typed else open_engine(given.engine)


def engine_name(engine: Engine | None) -> str:
    """The recogniser's name for the record."""
    return "keys" if engine is None else f"{engine.name}: {engine.model}"


def check_words(job: OpenJob, engine: Engine | None) -> None:
    """Find words that the engine doesn't know before the job needs them.

    Raises:
        UnknownWords: names the phrases that could never be heard.
    """
    if engine is None:
        return
    stops = job.setting.stops
    words = {stop.value: (text.read_back,) for stop, text in stops.stops.items()}
    words["second_person"], words["freeze"] = (stops.second_person,), (stops.freeze,)
    names = {person: (name.lower(),) for person, name in job.setting.roster.items()}
    engine.use(
        build_grammar(job.words.book, job.words.book.intents, {"read_back": words, "name": names})
    )


def run_live(
    job: OpenJob, given: argparse.Namespace, engine: Engine | None, first: Callable[[Bay], Event]
) -> int:
    """Run the job until it is released or the person stops it; returns the exit code.

    Args:
        job: opened or taken up.
        given: the live options.
        engine: the recogniser, None for keys alone.
        first: makes the event that begins or resumes the job.

    Raises:
        AudioUnavailable: no microphone, and not told to do without.
        UnknownWords: the engine can't hear some phrase of this job.
    """
    check_words(job, engine)
    show = _show
    ear = _ear(given, engine, job, show) if engine is not None else None
    keys = KeyboardKeys(sys.stdin)
    mouth = VoiceMouth(Renderer(given.voice, given.rate), Loudspeaker(given.loudspeaker))
    ports = Ports(
        mouth=mouth,
        keeper=job.keeper,
        clock=LiveClock(),
        fresh=lambda: 10 + secrets.randbelow(90),
        show=show,
        ear=ear,
        keys=keys,
        headset=given.headset,
    )
    bay = Bay(job.setting, job.words, ports, job.state)
    try:
        bay.handle(first(bay))
        while bay.state.mode is not Mode.RELEASED and not (keys.ended and ear is None):
            bay.turn(0.25)
    except KeyboardInterrupt:
        tell("")
    finally:
        mouth.close()
        if ear is not None:
            ear.close()
        job.keeper.journal.close()
    return _ended(bay, job)


def _ended(bay: Bay, job: OpenJob) -> int:
    if bay.state.mode is Mode.RELEASED:
        tell(f"released; the record is in {job.folder}")
        return ALL_RIGHT
    tell(f"stopped; everything confirmed is kept. Go on with: gloveson resume {job.folder.name}")
    return NOT_ALL_RIGHT


def _show(text: str) -> None:
    tell(f"  {text}")


def _ear(
    given: argparse.Namespace, engine: Engine, job: OpenJob, show: Callable[[str], None]
) -> Ear:
    def trouble(kind: str) -> None:
        key = {"lost": "microphone.lost", "back": "microphone.back"}.get(kind)
        show(job.words.shown(line(key)) if key else f"({kind})")

    try:
        source = Microphone(given.microphone)
    except AudioUnavailable as problem:
        msg = f"{problem}\nWithout a microphone: --typed"
        raise AudioUnavailable(msg) from problem
    return Ear(source, engine, trouble=trouble)
