"""Whose takes stand beside the engine: who is at work, from the opening over every hand-over."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.bay import Bay
from assistant.enrolled import VoiceAtWork
from assistant.hearing.acceptance import shipped_bars
from assistant.hearing.ear import Ear
from assistant.hearing.engines import Recognized
from assistant.hearing.enrollment.folder import VoiceFolder
from assistant.hearing.room import Room
from assistant.hearing.source import read_audio
from assistant.job.effects import Line
from assistant.job.events import Opened, Resumed
from assistant.job.state import JobState
from assistant.language.intent import Cost
from assistant.opening import words_of
from assistant.ports import Ports
from assistant.speaking.testing import ScriptedMouth
from assistant.testing import ScriptedClock, ScriptedKeeper, ScriptedKeys
from tests.hearing.clips import FIXTURES
from tests.hearing.fakes import Parrot
from tests.job.bench import ALL_HAZARDS, setting

VOICE = FIXTURES / "en" / "flite-rms"
PHRASES = ("affirm", "stand by", "negative", "step complete")
NAMES = {"mara": "Mara", "tobin": "Tobin"}
UNSURE = 0.8
"""More than nothing to the pair, too little for its bar of a confirmation."""
UNDER_CONTROL = shipped_bars()["pair"].bars[Cost.CONTROL].confidence - 0.02
"""The same for a control."""


class Unsure(Parrot):
    """An engine of the pair's name that is never quite sure."""

    name = "pair"


def sound(phrase: str) -> bytes:
    """The held-out voice's recording of a phrase."""
    return read_audio(VOICE / f"{phrase.replace(' ', '-')}.flac")


@pytest.fixture
def home(tmp_path: Path) -> Path:
    """A folder of voices in which Mara has enrolled four phrases, twice each."""
    folder = VoiceFolder("mara", tmp_path)
    for phrase in PHRASES * 2:
        folder.add(phrase, sound(phrase))
    return tmp_path


def bay_with(
    room: Room, engine: Parrot, voice: VoiceAtWork, keys: ScriptedKeys
) -> tuple[Bay, ScriptedKeeper]:
    """A bay with the product's ear in this room and that voice beside its engine."""
    keeper = ScriptedKeeper()
    ports = Ports(
        ScriptedMouth(),
        keeper,
        ScriptedClock(),
        lambda: 42,
        lambda _text: None,
        ear=Ear(room, voice.engine, bars=shipped_bars()[engine.name]),
        keys=keys,
        at_work=voice.at_work,
    )
    return Bay(setting(ALL_HAZARDS), words_of("en"), ports, JobState()), keeper


def heard_in(keeper: ScriptedKeeper) -> list[tuple[str, str]]:
    """Kind and engine of each entry that came by voice."""
    return [
        (entry.kind, str(entry.data.get("engine", "")))
        for entry in keeper.entries
        if entry.kind == "unclear" or entry.data.get("via") == "voice"
    ]


def test_the_takes_of_who_is_at_work_count_until_another_takes_over(home: Path) -> None:
    """What the engine isn't sure enough of is a command by Mara's takes, and unclear with Tobin.

    The record says where takes counted.
    """
    told: list[Line] = []
    engine = Unsure([Recognized("affirm", UNSURE), *[Recognized("stand by", UNDER_CONTROL)] * 2])
    voice = VoiceAtWork(engine, NAMES, told.append, home)
    room, keys = Room(), ScriptedKeys()
    bay, keeper = bay_with(room, engine, voice, keys)
    bay.begin(lambda: Opened(bay.stamp(), "job-1", "WREN 7", "mara", "tobin"))
    assert [line.key for line in told] == ["enrollment.used"]
    for phrase in ("affirm", "stand by"):
        room.speak(sound(phrase), after_s=1.0)
        bay.turn(4.0)
    assert heard_in(keeper) == [("heard", "pair: none, with takes")] * 2
    for typed in ("carry on", "hand over to tobin", "affirm"):
        keys.type(typed)
        bay.turn(0.0)
    assert bay.state.who == "tobin"
    room.speak(sound("stand by"), after_s=1.0)
    bay.turn(4.0)
    assert heard_in(keeper)[2:] == [("unclear", "")]
    assert len(told) == 1


def test_a_job_taken_up_has_the_voice_of_who_goes_on(home: Path) -> None:
    """Resuming tells whose voice is used, once, whatever happens next."""
    told: list[Line] = []
    engine = Unsure([])
    voice = VoiceAtWork(engine, NAMES, told.append, home)
    bay, _ = bay_with(Room(), engine, voice, ScriptedKeys("what is off"))
    bay.begin(lambda: Opened(bay.stamp(), "job-1", "", "tobin"))
    assert told == []
    bay.handle(Resumed(bay.stamp(), "mara"))
    bay.turn(0.0)
    assert [(line.key, dict(line.values)["name"]) for line in told] == [("enrollment.used", "Mara")]


def test_a_damaged_voice_is_told_and_the_job_goes_on(home: Path) -> None:
    """A clip that is gone: the engine hears alone, and a line says what to do."""
    next((home / "mara").glob("*.flac")).unlink()
    told: list[Line] = []
    VoiceAtWork(Unsure([]), NAMES, told.append, home).at_work("mara")
    assert [line.key for line in told] == ["enrollment.unusable"]
    assert "enroll mara anew" in words_of("en").shown(told[0])


def test_an_engine_without_measured_weights_hears_alone(home: Path) -> None:
    """Takes never stand beside an engine that they were not measured beside."""
    parrot = Parrot([])
    told: list[Line] = []
    voice = VoiceAtWork(parrot, NAMES, told.append, home)
    voice.at_work("mara")
    assert voice.engine is parrot
    assert told == []
