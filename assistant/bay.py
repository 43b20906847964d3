"""One bay: the place where ear, mouth, keys, journal and the job's core are joined.

One thread owns a bay. It hears one thing, writes it down, lets the core decide, and then does
what the core asks. A confirmation is on disk before it is acknowledged.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final, Protocol

from assistant.errors import AudioUnavailable, JournalUnwritable, VoiceUnavailable
from assistant.hearing.ear import Heard as Utterance
from assistant.hearing.ear import Nothing, Speech
from assistant.job.admit import admitted, fillers
from assistant.job.ahead import likely_lines
from assistant.job.effects import BeQuiet, Close, Effect, Say, line
from assistant.job.events import Clip, Dictated, Event, Heard, Stamp, Tick, Unclear
from assistant.job.machine import advance
from assistant.job.serial import event_kind, to_data
from assistant.job.state import JobState, Mode, Setting
from assistant.job.table import DICTATION
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.intent import Intent
from assistant.record.seal import fingerprint
from assistant.speaking.mouth import Mouth
from assistant.words import Words

FULL_DUPLEX: Final = frozenset({"quiet", "freeze"})
"""What may be said while the assistant speaks, with a headset."""


class Ear(Protocol):
    """Hears one utterance at a time; see `assistant.hearing.ear.Ear`."""

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Utterance | Nothing:
        """Wait for one utterance."""

    def record_speech(self, closing: Grammar, until_silence_s: float = 8.0) -> Speech:
        """Keep free speech as sound."""

    def deafen(self) -> None:
        """Shut the ear before the assistant speaks."""

    def listen_again(self) -> None:
        """Open the ear after the assistant has spoken, with a guard time."""


class Keeper(Protocol):
    """Keeps what happened; everything is on disk when a call returns.

    All calls raise JournalUnwritable when it is not.
    """

    def keep_clip(self, pcm: bytes) -> Clip | None:
        """Save sound, or None when clips are switched off."""

    def append(self, kind: str, data: dict[str, object], wall: str, mono: float) -> None:
        """Write one entry."""

    def retry(self) -> None:
        """Find out whether writing works again."""

    def seal(self, wall: str, mono: float) -> str:
        """Close the record; returns the seal."""


class Clock(Protocol):
    """Two clocks: what the wall shows, and one that never steps back."""

    def wall(self) -> str:
        """RFC 3339, UTC."""

    def mono(self) -> float:
        """Seconds."""


class Keys(Protocol):
    """A keyboard or a pedal."""

    def line(self, patience_s: float) -> str | None:
        """What was typed, or None when nothing was within the patience."""


@dataclass
class Ports:
    """What a bay is joined to. Without an ear it is driven by keys, without keys by voice."""

    mouth: Mouth
    keeper: Keeper
    clock: Clock
    fresh: Callable[[], int]
    show: Callable[[str], None]
    ear: Ear | None = None
    keys: Keys | None = None
    headset: bool = False
    acted: Callable[[Event], None] = field(default=lambda _event: None)


class Bay:
    """Runs one job through its ports.

    Attributes:
        state: the job now.
        seal: the seal of the closed record, empty before.
    """

    def __init__(
        self,
        setting: Setting,
        words: Words,
        ports: Ports,
        state: JobState,
    ) -> None:
        self.setting = setting
        self.state = state
        self.seal = ""
        self._book = words.book
        self._keys = words.keys
        self._words = words
        self._ports = ports
        self._grammars: dict[object, Grammar] = {}
        self._unwritable = False
        self._silent = False

    def stamp(self) -> Stamp:
        """Now, with a fresh number."""
        clock = self._ports.clock
        return Stamp(clock.wall(), clock.mono(), self._ports.fresh())

    def run(self, patience_s: float = 0.5) -> None:
        """Go on until the job is released; KeyboardInterrupt leaves it to be resumed."""
        while self.state.mode is not Mode.RELEASED:
            self.turn(patience_s)

    def turn(self, patience_s: float) -> bool:
        """Wait for one thing and deal with it; True when something was said or typed."""
        if self._unwritable and not self._writable_again():
            return False
        self._tick()
        if self.state.mode in DICTATION:
            dictated = self._dictation()
            if dictated is not None:
                self.handle(dictated)
            return dictated is not None
        event = self._typed(0.0 if self._ports.ear is not None else patience_s)
        if event is None and self._ports.ear is not None:
            event = self._heard(self._ports.ear, patience_s)
        if event is None:
            return False
        self.handle(event)
        return True

    def handle(self, event: Event) -> None:
        """Write the event down, let the core decide, then do what it asks."""
        state, effects = advance(self.setting, self.state, event)
        try:
            at = event.at
            self._ports.keeper.append(event_kind(event), to_data(event), at.wall, at.mono)
        except JournalUnwritable as problem:
            self._stop_aloud(problem)
            return
        self.state = state
        self._ports.acted(event)
        for effect in effects:
            self._do(effect)
        if state.mode is Mode.STEP and any(isinstance(effect, Say) for effect in effects):
            self._make_ready()

    def grammar(self) -> Grammar:
        """What may be said now, compiled once for each different state."""
        return self._grammar(admitted(self.setting, self.state))

    def _grammar(self, names: frozenset[str]) -> Grammar:
        filled = fillers(self.setting, self.state)
        key = (names, *(tuple(filled.get(slot, {}).items()) for slot in ("read_back", "unit")))
        if key not in self._grammars:
            self._grammars[key] = build_grammar(self._book, names, filled)
        return self._grammars[key]

    def _tick(self) -> None:
        tick = Tick(self.stamp())
        state, effects = advance(self.setting, self.state, tick)
        if effects or state != self.state:  # an idle moment is not worth an entry
            self.handle(tick)

    def _heard(self, ear: Ear, patience_s: float) -> Event | None:
        heard = ear.hear(self.grammar(), patience_s)
        if isinstance(heard, Nothing):
            return None
        try:
            clip = self._ports.keeper.keep_clip(heard.clip)
        except JournalUnwritable as problem:
            self._stop_aloud(problem)
            return None
        if heard.intent is None:
            return Unclear(self.stamp(), heard.text, clip)
        confidence = round(heard.confidence, 4)
        return Heard(self.stamp(), heard.intent, "voice", confidence, clip)

    def _typed(self, patience_s: float) -> Event | None:
        if self._ports.keys is None:
            return None
        typed = self._ports.keys.line(patience_s)
        if typed is None:
            return None
        intent = self.typed_intent(self._keys.get(typed.strip(), typed))
        if intent is None:
            self._ports.show(self._words.shown(line("refused.typed")))
            return None
        return Heard(self.stamp(), intent, "typed")

    def typed_intent(self, typed: str) -> Intent | None:
        """What a typed line means: a phrase, in words or with figures and unit symbols."""
        grammar = self.grammar()
        return grammar.match(typed) or grammar.match(self._words.spelled(typed))

    def _dictation(self) -> Event | None:
        """Free speech or a typed line; "hold everything" ends it too."""
        ending = self._grammar(frozenset({"end_note", "freeze"}))
        if self._ports.keys is not None:
            typed = self._ports.keys.line(600.0 if self._ports.ear is None else 0.0)
            if typed is not None:
                return self._typed_dictation(ending, typed)
        if self._ports.ear is None:
            return Dictated(self.stamp(), 0.0)
        speech = self._ports.ear.record_speech(ending)
        clip = self._ports.keeper.keep_clip(speech.clip) if speech.clip else None
        return Dictated(self.stamp(), round(len(speech.clip) / 32_000, 2), clip)

    def _typed_dictation(self, ending: Grammar, typed: str) -> Event | None:
        intent = ending.match(typed)
        if intent is not None and intent.name == "freeze":
            return Heard(self.stamp(), intent, "typed")
        text = " ".join(typed.split())[:500]
        if self.state.mode is Mode.OFF_LABEL and not self._names_a_part(text):
            self._ports.show(self._words.shown(line("refused.name")))
            return None
        return Dictated(self.stamp(), 0.0, text=text)

    def _names_a_part(self, text: str) -> bool:
        """Whether this can be read aloud as a part's name: short, speakable, no confirmation."""
        fits = 0 < len(text) <= 40
        return fits and self._words.can_be_said(text) and not self._words.confirms(text)

    def _do(self, effect: Effect) -> None:
        if isinstance(effect, Say):
            self._say(effect)
        elif isinstance(effect, BeQuiet):
            self._ports.mouth.quiet()
        elif isinstance(effect, Close):
            at = self.stamp()
            self.seal = self._ports.keeper.seal(at.wall, at.mono)
            sealed = line("release.sealed", fingerprint=fingerprint(self.seal))
            self._ports.show(self._words.shown(sealed))
            self._speak([self._words.spoken(line("release.sealed_spoken"))])

    def _say(self, effect: Say) -> None:
        at = self.stamp()
        shown = [self._words.shown(said) for said in effect.lines]
        try:
            self._ports.keeper.append("said", {"lines": shown}, at.wall, at.mono)
        except JournalUnwritable as problem:
            self._stop_aloud(problem)
            return
        for text in shown:
            self._ports.show(text)
        self._speak([self._words.spoken(said) for said in effect.lines], slowly=effect.slowly)

    def _speak(self, texts: list[str], *, slowly: bool = False) -> None:
        ear = self._ports.ear
        words = " ".join(texts)
        if ear is None:
            self._aloud(words, slowly)
            return
        if self._ports.headset:
            self._speak_and_listen(ear, words, slowly=slowly)
            return
        ear.deafen()
        try:
            self._aloud(words, slowly)
        finally:
            ear.listen_again()

    def _aloud(self, words: str, slowly: bool) -> None:
        """Say it; without a voice the screen has to do, and that is said there once."""
        try:
            self._ports.mouth.say(words, slowly)
        except (AudioUnavailable, VoiceUnavailable) as problem:
            if not self._silent:
                self._ports.show(f"({problem})")
            self._silent = True
        else:
            self._silent = False

    def _speak_and_listen(self, ear: Ear, words: str, *, slowly: bool) -> None:
        """Full duplex: only "quiet please" and "hold everything" count while speaking."""
        speaking = threading.Thread(target=self._aloud, args=(words, slowly))
        speaking.start()
        grammar = self._grammar(FULL_DUPLEX)
        interrupt: Event | None = None
        while speaking.is_alive() and interrupt is None:
            heard = ear.hear(grammar, 0.2, speaking.is_alive)
            if isinstance(heard, Utterance) and heard.intent is not None:
                self._ports.mouth.quiet()
                interrupt = Heard(self.stamp(), heard.intent, "voice", round(heard.confidence, 4))
        speaking.join()
        if interrupt is not None:
            self.handle(interrupt)

    def _make_ready(self) -> None:
        """Have everything rendered that the next confirmation may make the assistant say."""
        lines = likely_lines(self.setting, self.state)
        self._ports.mouth.ahead(self._words.spoken(said) for said in lines)

    def _stop_aloud(self, problem: JournalUnwritable) -> None:
        """The record can't be written: say so and let nothing count until it can (I6)."""
        self._unwritable = True
        warning = line("journal.failed")
        self._ports.show(f"{self._words.shown(warning)} ({problem})")
        self._speak([self._words.spoken(warning)])

    def _writable_again(self) -> bool:
        try:
            self._ports.keeper.retry()
        except JournalUnwritable as problem:
            self._stop_aloud(problem)
            return False
        self._unwritable = False
        return True
