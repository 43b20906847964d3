"""A live job: microphone, loudspeaker and keys joined to the bay."""

from __future__ import annotations

import argparse
import secrets
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from assistant.bay import Bay
from assistant.checking import check_loaded
from assistant.checklist.loader import Loaded
from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, tell
from assistant.engines import open_engine
from assistant.enrolled import VoiceAtWork
from assistant.errors import AudioUnavailable, BadFile
from assistant.hearing.ear import Ear
from assistant.hearing.engines import Engine
from assistant.hearing.keys import KeyboardKeys
from assistant.hearing.microphone import Microphone, rescan_devices
from assistant.job.admit import Fillers
from assistant.job.effects import line
from assistant.job.events import Event
from assistant.job.flow import CHALLENGES
from assistant.job.state import Setting
from assistant.language.grammar import build_grammar
from assistant.opening import OpenJob
from assistant.ports import Ports
from assistant.record.journal import now
from assistant.speaking.loudspeaker import Loudspeaker
from assistant.speaking.mouth import VoiceMouth
from assistant.speaking.renderer import Renderer
from assistant.words import Words


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


@dataclass(frozen=True, slots=True)
class Gear:
    """What a live job needs of this machine.

    Attributes:
        name: the recogniser's, for the record; "keys" without one.
        at_work: puts the enrolled voice of who is at work beside the recogniser.
    """

    name: str
    mouth: VoiceMouth
    ear: Ear | None
    at_work: Callable[[str], None]


@contextmanager
def gear_for(given: argparse.Namespace, setting: Setting, words: Words) -> Iterator[Gear]:
    """Voice, loudspeaker, recogniser and microphone, made ready before anything is written.

    Raises:
        AudioUnavailable: no microphone, and not told to do without.
        EngineUnavailable: the recogniser can't be loaded.
        UnknownWords: the recogniser can't hear some phrase of this job.
    """
    loudspeaker = Loudspeaker(given.loudspeaker)
    mouth = VoiceMouth(Renderer(given.voice, given.rate), loudspeaker)
    ear = None
    at_work: Callable[[str], None] = _nobodys
    try:
        name = "keys"
        if not given.typed:
            engine = open_engine(given.engine)
            check_words(engine, setting, words)
            name = f"{engine.name}: {engine.model}"
            if not given.no_enrollment:
                voice = VoiceAtWork(engine, setting.roster, lambda said: _show(words.shown(said)))
                engine, at_work = voice.engine, voice.at_work
            ear = _ear(given, engine, words, loudspeaker)
        yield Gear(name, mouth, ear, at_work)
    finally:
        mouth.close()
        if ear is not None:
            ear.close()


def _nobodys(_person: str) -> None:
    """No voice is put beside anything."""


def check_words(engine: Engine, setting: Setting, words: Words) -> None:
    """Find words that the engine doesn't know before the job needs them.

    Raises:
        UnknownWords: names the phrases that could never be heard.
    """
    names = {person: (name.lower(),) for person, name in setting.roster.items()}
    book = words.book
    wrenches = {wrench.name: (wrench.name.lower(),) for wrench in setting.wrenches}
    filled: Fillers = {
        "read_back": setting.stops.read_backs(),
        "name": names,
        **({"wrench": wrenches} if wrenches else {}),
    }
    engine.use(build_grammar(book, book.sayable(filled), filled))


def run_live(
    job: OpenJob, given: argparse.Namespace, gear: Gear, first: Callable[[Bay], Event]
) -> int:
    """Run the job until it is released or the person stops it; returns the exit code.

    Args:
        job: opened or taken up; its record is closed on return.
        given: the live options.
        gear: voice and microphone.
        first: makes the event that begins or resumes the job.
    """
    keys = KeyboardKeys(sys.stdin)
    ports = Ports(
        mouth=gear.mouth,
        keeper=job.keeper,
        clock=LiveClock(),
        fresh=lambda: secrets.choice(CHALLENGES),
        show=_show,
        ear=gear.ear,
        keys=keys,
        headset=given.headset,
        at_work=gear.at_work,
    )
    bay = Bay(job.setting, job.words, ports, job.state)
    try:
        bay.begin(lambda: first(bay))
        while not bay.closed and not (keys.ended and gear.ear is None):
            bay.turn(0.25)
    except KeyboardInterrupt:
        tell("")
    finally:
        kept = job.keeper.journal.in_place()
        job.keeper.journal.close()
    return _ended(bay, job, kept=kept)


def _ended(bay: Bay, job: OpenJob, *, kept: bool) -> int:
    if bay.closed:
        tell(f"released; the record is in {job.folder}")
        return ALL_RIGHT
    if not kept:
        tell(
            f"stopped; the record is no longer in {job.folder}. Nothing can be said of what it "
            f"holds. When it is back: gloveson resume {job.folder.name}"
        )
        return NOT_ALL_RIGHT
    tell(f"stopped; everything confirmed is kept. Go on with: gloveson resume {job.folder.name}")
    return NOT_ALL_RIGHT


def _show(text: str) -> None:
    tell(f"  {text}")


def tell_of(words: Words, show: Callable[[str], None]) -> Callable[[str], None]:
    """Shows what is wrong with the sound; that nobody can be heard at all is told by the bay."""
    lines = {"clipping": line("microphone.clipping"), "dropped": line("microphone.dropped")}

    def trouble(kind: str) -> None:
        if kind in lines:
            show(words.shown(lines[kind]))

    return trouble


def rescan_beside(loudspeaker: Loudspeaker) -> None:
    """Look for devices anew while the loudspeaker is closed; not now when it is in use."""
    with loudspeaker.apart() as closed:
        if closed:
            rescan_devices()


def _ear(given: argparse.Namespace, engine: Engine, words: Words, loudspeaker: Loudspeaker) -> Ear:
    try:
        source = Microphone(given.microphone, rescan=lambda: rescan_beside(loudspeaker))
    except AudioUnavailable as problem:
        msg = f"{problem}\nWithout a microphone: --typed"
        raise AudioUnavailable(msg) from problem
    return Ear(source, engine, trouble=tell_of(words, _show))
