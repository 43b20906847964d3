"""Takes asked for and recorded, from a source of fixture voices."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.hearing.engines import Recognized
from assistant.hearing.enrollment.folder import VoiceFolder
from assistant.hearing.room import Room
from assistant.hearing.source import read_audio
from assistant.packaged import phrasebook
from assistant.soundcheck.run import grammar_of
from assistant.soundcheck.takes import ROUNDS, TRIES, phrases_to_enroll, record_takes
from tests.hearing.clips import FIXTURES
from tests.hearing.fakes import Parrot

VOICE = FIXTURES / "en" / "flite-rms"
BOOK = phrasebook("en")
GRAMMAR = grammar_of(BOOK)
PHRASES = ("step complete", "affirm", "stand by", "negative")


def sound(phrase: str) -> bytes:
    """The held-out voice's recording of a phrase."""
    return read_audio(VOICE / f"{phrase.replace(' ', '-')}.flac")


class Person:
    """Says in a room what is asked for, or what a test has it say instead.

    Attributes:
        asked: each phrase with the fault of the take before.
        instead: phrase -> sounds said in its place, each once; None: silence.
    """

    def __init__(self) -> None:
        self.room = Room()
        self.asked: list[tuple[str, str]] = []
        self.instead: dict[str, list[bytes | None]] = {}
        self.last: Callable[[], bool] = lambda: False

    def ask(self, phrase: str, fault: str) -> None:
        """Say it, after a moment."""
        self.asked.append((phrase, fault))
        if self.last():
            self.room.close()
        said = self.instead.get(phrase)
        pcm = said.pop(0) if said else sound(phrase)
        if pcm is not None:
            self.room.speak(pcm, after_s=0.7)


def nothing() -> Parrot:
    """An engine that never understands: takes are for people it doesn't understand."""
    return Parrot([])


def test_the_phrases_that_matter_are_asked_for() -> None:
    """About 25 fixed phrases of the phrasebook: all confirmations are among them, no figures."""
    found = phrases_to_enroll(BOOK)
    assert 22 <= len(found) <= 30
    assert {"step complete", "affirm", "negative", "hold everything", "what torque"} <= {*found}
    assert not any("<" in phrase for phrase in found)
    assert all(GRAMMAR.match(phrase) for phrase in found)


def test_every_phrase_is_asked_for_in_each_round(tmp_path: Path) -> None:
    """Two rounds over all phrases; each take is kept under its phrase and can be used."""
    person, folder = Person(), VoiceFolder("mara", tmp_path)
    assert record_takes(person.room, nothing(), GRAMMAR, PHRASES, folder, person.ask)
    assert [phrase for phrase, _ in person.asked] == [*PHRASES] * ROUNDS
    assert {fault for _, fault in person.asked} == {""}
    assert [clip.phrase for clip in folder.clips] == [*PHRASES] * ROUNDS
    assert len(folder.phrases()) == len(PHRASES)


def test_bad_takes_are_asked_for_again(tmp_path: Path) -> None:
    """Wrong phrases and silence are not kept; after some tries the next phrase comes."""
    person, folder = Person(), VoiceFolder("mara", tmp_path)
    first, second, third = PHRASES[:3]
    person.instead = {second: [None], third: [None] * TRIES}
    heard = [Recognized("carry on", 1.0), *[Recognized("", 0.0)] * 20]
    assert not record_takes(person.room, Parrot(heard), GRAMMAR, PHRASES, folder, person.ask)
    assert person.asked[:2] == [(first, ""), (first, 'that sounded like "carry on"')]
    assert person.asked[2:4] == [(second, ""), (second, "nothing was heard")]
    assert [phrase for phrase, _ in person.asked[4:8]] == [third] * TRIES + [PHRASES[3]]
    assert folder.count(first) == ROUNDS
    assert folder.count(third) == 1  # of the second round


def test_takes_in_noise_are_not_kept(tmp_path: Path) -> None:
    """Where the room is too loud each take is asked for again, with the reason."""
    person, folder = Person(), VoiceFolder("mara", tmp_path)
    person.room = Room("white", 3.0)
    person.last = lambda: len(person.asked) > TRIES
    assert not record_takes(person.room, nothing(), GRAMMAR, PHRASES, folder, person.ask)
    assert folder.clips == ()
    assert "noisy" in person.asked[1][1]


def test_it_goes_on_where_it_was(tmp_path: Path) -> None:
    """Stopped in the middle everything is kept, and the next time only the rest is asked for."""
    person, folder = Person(), VoiceFolder("mara", tmp_path)

    def stopped(phrase: str, fault: str) -> None:
        if len(folder.clips) == 3:
            raise KeyboardInterrupt
        person.ask(phrase, fault)

    with pytest.raises(KeyboardInterrupt):
        record_takes(person.room, nothing(), GRAMMAR, PHRASES, folder, stopped)
    person.asked.clear()
    again = VoiceFolder("mara", tmp_path)
    assert record_takes(person.room, nothing(), GRAMMAR, PHRASES, again, person.ask)
    assert [phrase for phrase, _ in person.asked] == [*PHRASES[3:], *PHRASES]


def test_without_sound_it_ends(tmp_path: Path) -> None:
    """A source that has no more ends the asking; what is missing is still missing."""
    person, folder = Person(), VoiceFolder("mara", tmp_path)
    person.last = lambda: len(folder.clips) == 2
    assert not record_takes(person.room, nothing(), GRAMMAR, PHRASES, folder, person.ask)
    assert len(folder.clips) == 2
    assert len(person.asked) == 3
