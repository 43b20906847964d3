"""The turns of one bay.

One thread owns a bay. It hears one thing, writes it down, lets the core decide, and then does
what the core asks. A confirmation is on disk before it is acknowledged.
"""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Final

from assistant.bay.deafness import Deafness, Told
from assistant.bay.disk_alarm import DiskAlarm
from assistant.bay.typed import intent_of, names_a_part
from assistant.errors import AudioUnavailable, JournalUnwritable, VoiceUnavailable
from assistant.hearing.ear import Heard as Utterance
from assistant.hearing.ear import Nothing
from assistant.hearing.engines import TAKES
from assistant.job.admit import admitted, fillers, fractions
from assistant.job.ahead import likely_lines
from assistant.job.effects import BeQuiet, Close, Effect, Say, line
from assistant.job.events import Dictated, Event, Heard, Stamp, Tick, Unclear
from assistant.job.machine import advance
from assistant.job.serial import event_kind, to_data
from assistant.job.state import JobState, Mode, Setting
from assistant.job.table import DICTATION
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.intent import Cost, Intent
from assistant.ports import Ear, Ports
from assistant.record.seal import fingerprint
from assistant.words import Words

FULL_DUPLEX: Final = frozenset({"quiet", "freeze"})
"""What may be said while the assistant speaks, with a headset."""

ENDING: Final = frozenset({"end_note", "freeze"})
"""What counts while somebody dictates."""

AHEAD: Final = frozenset(
    {"stand_by", "correction", "report_trouble", "smell_of_fuel", "smoke", "fluid_leak"}
)
"""What, besides questions, may be said before the answer to the last words has sounded: it stops,
withdraws or warns. A confirmation never may, nor "negative": its question was not heard yet."""


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
        self._alarm = DiskAlarm(ports, words, self._speak)
        self._deafness = Deafness()
        self._interjection: Heard | None = None
        self._begun: Utterance | None = None
        self._silent = False
        self._first: Callable[[], Event] | None = None

    @property
    def closed(self) -> bool:
        """Whether the job is released and its record sealed."""
        return self.state.mode is Mode.RELEASED and bool(self.seal)

    def stamp(self) -> Stamp:
        """Now, with a fresh number."""
        clock = self._ports.clock
        return Stamp(clock.wall(), clock.mono(), self._ports.fresh())

    def begin(self, first: Callable[[], Event]) -> None:
        """The job begins or goes on: make this event, and again until it is written down.

        A job that was released but not sealed any more (the machine stopped in between) needs
        no event: the next turn seals it.
        """
        if self.state.mode is Mode.RELEASED:
            return
        self._first = first
        self._begin()

    def run(self, patience_s: float = 0.5) -> None:
        """Go on until the record is sealed; KeyboardInterrupt leaves it to be resumed."""
        while not self.closed:
            self.turn(patience_s)

    def turn(self, patience_s: float) -> bool:
        """Wait for one thing and deal with it; True when something was said or typed."""
        if self._alarm.on and not self._alarm.over(
            lambda: self._anything(patience_s), lambda: self._drop_typed(0.0)
        ):
            return False
        if self._first is not None:
            self._begin()
            return False
        if self.state.mode is Mode.RELEASED:
            self._close()
            return False
        self._tick()
        event = self._interjected() or (
            self._dictation() if self.state.mode in DICTATION else self._command(patience_s)
        )
        if event is None:
            return False
        self.handle(event)
        return True

    def handle(self, event: Event) -> bool:
        """Write the event down, let the core decide, then do what it asks.

        Returns:
            Whether it is in the record; if not, it did not happen.
        """
        state, effects = advance(self.setting, self.state, event)
        try:
            at = event.at
            self._ports.keeper.append(event_kind(event), to_data(event), at.wall, at.mono)
        except JournalUnwritable as problem:
            self._alarm.sound(problem)
            return False
        self.state = state
        self._ports.acted(event)
        self._ports.at_work(state.who)
        for effect in effects:
            if self.state.mode is Mode.FROZEN and state.mode is not Mode.FROZEN:
                return True  # "hold everything" was heard meanwhile: the rest stays unsaid
            self._do(effect)
        if state.mode is Mode.STEP and any(isinstance(effect, Say) for effect in effects):
            self._make_ready()
        return True

    def _begin(self) -> None:
        if self._first is not None and self.handle(self._first()):
            self._first = None

    def grammar(self) -> Grammar:
        """What may be said now, compiled once for each different state."""
        return self._grammar(admitted(self.setting, self.state))

    def _grammar(self, names: frozenset[str]) -> Grammar:
        filled = fillers(self.setting, self.state)
        fraction = fractions(self.setting, self.state)
        words = (tuple(filled.get(slot, {}).items()) for slot in ("read_back", "unit"))
        key = (names, fraction, *words)
        if key not in self._grammars:
            self._grammars[key] = build_grammar(self._book, names, filled, fractions=fraction)
        return self._grammars[key]

    def _tick(self) -> None:
        tick = Tick(self.stamp())
        state, effects = advance(self.setting, self.state, tick)
        if effects or state != self.state:  # an idle moment is not worth an entry
            self.handle(tick)

    def _command(self, patience_s: float) -> Event | None:
        event = self._typed(0.0 if self._ports.ear is not None else patience_s)
        if event is None and self._ports.ear is not None:
            event = self._heard(self._ports.ear, patience_s)
        return event

    def _heard(self, ear: Ear, patience_s: float) -> Event | None:
        heard = ear.hear(self.grammar(), patience_s)
        reason = heard.reason if isinstance(heard, Nothing) else "heard"
        told = self._deafness.noticed(reason, self._ports.clock.mono())
        if told is not None:
            self._tell(told)
        return None if isinstance(heard, Nothing) else self._event_of(heard)

    def _tell(self, told: Told) -> None:
        """Say or show whether anybody can be heard; after "hold everything" it is only shown."""
        aloud = told.aloud and self.state.mode is not Mode.FROZEN
        self._say(Say((told.line,)), aloud=aloud)

    def _interjected(self) -> Event | None:
        """What was said during the last decision, if it counts in the state that this led to."""
        event, self._interjection = self._interjection, None
        if event is None or event.intent.name not in admitted(self.setting, self.state):
            return None
        return event

    def _event_of(self, heard: Utterance) -> Event | None:
        """What was heard, its sound kept; None when that could not be."""
        try:
            clip = self._ports.keeper.keep_clip(heard.clip)
        except JournalUnwritable as problem:
            self._alarm.sound(problem)
            return None
        if heard.intent is None:
            return Unclear(self.stamp(), heard.text, clip, _engine_of(heard))
        sure = round(heard.confidence, 4)
        return Heard(self.stamp(), heard.intent, "voice", sure, clip, _engine_of(heard))

    def _typed(self, patience_s: float) -> Event | None:
        if self._ports.keys is None:
            return None
        typed = self._ports.keys.line(patience_s)
        if typed is None:
            return None
        phrase = self._keys.get(typed.strip())
        intent = self.typed_intent(typed if phrase is None else phrase)
        if intent is None:
            self._ports.show(self._words.shown(line("refused.typed")))
            return None
        return Heard(self.stamp(), intent, "typed" if phrase is None else "key")

    def typed_intent(self, typed: str) -> Intent | None:
        """What a typed line means now."""
        return intent_of(typed, self.grammar(), self._words)

    def _dictation(self) -> Event | None:
        """Free speech or a typed line; "hold everything" ends it too."""
        ending = self._grammar(ENDING)
        if self._ports.keys is not None and self._begun is None:
            typed = self._ports.keys.line(600.0 if self._ports.ear is None else 0.0)
            if typed is not None:
                return self._typed_dictation(ending, typed)
        if self._ports.ear is None:
            return Dictated(self.stamp(), 0.0)
        begun, self._begun = self._begun, None
        speech = self._ports.ear.record_speech(ending, first=begun)
        try:
            clip = self._ports.keeper.keep_clip(speech.clip) if speech.clip else None
        except JournalUnwritable as problem:
            self._alarm.sound(problem)
            return None
        if speech.closing is not None and speech.closing.name == "freeze":
            return Heard(self.stamp(), speech.closing, "voice", clip=clip)
        return Dictated(self.stamp(), round(len(speech.clip) / 32_000, 2), clip)

    def _typed_dictation(self, ending: Grammar, typed: str) -> Event | None:
        intent = ending.match(typed)
        if intent is not None and intent.name == "freeze":
            return Heard(self.stamp(), intent, "typed")
        text = " ".join(typed.split())[:500]
        if self.state.mode is Mode.OFF_LABEL and not names_a_part(text, self._words):
            self._ports.show(self._words.shown(line("refused.name")))
            return None
        return Dictated(self.stamp(), 0.0, text=text)

    def _do(self, effect: Effect) -> None:
        if isinstance(effect, Say):
            self._say(effect)
        elif isinstance(effect, BeQuiet):
            self._ports.mouth.quiet()
        elif isinstance(effect, Close):
            self._close()

    def _close(self) -> None:
        at = self.stamp()
        try:
            self.seal = self._ports.keeper.seal(at.wall, at.mono)
        except JournalUnwritable as problem:
            self._alarm.sound(problem)  # the next turns try again
            return
        sealed = line("release.sealed", fingerprint=fingerprint(self.seal))
        self._ports.show(self._words.shown(sealed))
        self._speak([self._words.spoken(line("release.sealed_spoken"))])

    def _say(self, effect: Say, *, aloud: bool = True) -> None:
        at = self.stamp()
        shown = [self._words.shown(said) for said in effect.lines]
        try:
            self._ports.keeper.append("said", {"lines": shown}, at.wall, at.mono)
        except JournalUnwritable as problem:
            self._alarm.sound(problem)
            return
        for text in shown:
            self._ports.show(text)
        if aloud:
            self._speak([self._words.spoken(said) for said in effect.lines], slowly=effect.slowly)

    def _speak(self, texts: list[str], *, slowly: bool = False) -> None:
        ear = self._ports.ear
        words = " ".join(texts)
        if ear is None:
            self._aloud(words, slowly)
            return
        if self._dictating(ear):
            return
        if self._ports.headset:
            self._speak_and_listen(ear, words, slowly=slowly)
            return
        if self._silenced(ear):
            return
        ear.deafen()
        try:
            self._aloud(words, slowly)
        finally:
            ear.listen_again()

    def _dictating(self, ear: Ear) -> bool:
        """Whether somebody dictates already, without waiting for the words that ask for it."""
        if self.state.mode not in DICTATION or self._alarm.on or self._begun is not None:
            return False
        heard = ear.goes_on(self._grammar(ENDING))
        self._begun = heard if isinstance(heard, Utterance) else None
        return self._begun is not None

    def _silenced(self, ear: Ear) -> bool:
        """Hear out who began to speak during the decision; True when that wants no answer now."""
        if self._alarm.on or self.state.mode is Mode.RELEASED:
            return False
        costs = {name: entry.cost for name, entry in self._book.intents.items()}
        names = admitted(self.setting, self.state)
        ahead = {n for n in names if n in AHEAD or costs[n] is Cost.QUESTION}
        heard = ear.interjected(self._grammar(FULL_DUPLEX | ahead))
        if not isinstance(heard, Utterance) or heard.intent is None:
            return False
        event = self._event_of(heard)
        if not isinstance(event, Heard):
            return True  # its sound could not be kept, and that has been said
        if heard.intent.name not in FULL_DUPLEX:
            self._interjection = event
            return False
        self.handle(event)
        return True

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
        """Full duplex: only "quiet please" and "hold everything" count while speaking.

        Where the words ask for a note, whatever else is said meanwhile is the note's beginning.
        """
        speaking = threading.Thread(target=self._aloud, args=(words, slowly))
        speaking.start()
        dictated = self.state.mode in DICTATION
        grammar = self._grammar(FULL_DUPLEX | (ENDING if dictated else frozenset()))
        interrupt: Utterance | None = None
        while speaking.is_alive() and interrupt is None:
            heard = ear.hear(grammar, 0.2, speaking.is_alive)
            if isinstance(heard, Utterance) and (dictated or heard.intent is not None):
                self._ports.mouth.quiet()
                interrupt = heard
        speaking.join()
        if interrupt is None:
            return
        if dictated and (interrupt.intent is None or interrupt.intent.name in ENDING):
            self._begun = interrupt
            return
        event = self._event_of(interrupt)
        if event is not None:
            self.handle(event)

    def _make_ready(self) -> None:
        """Have everything rendered that the next confirmation may make the assistant say."""
        lines = likely_lines(self.setting, self.state)
        self._ports.mouth.ahead(self._words.spoken(said) for said in lines)

    def _anything(self, patience_s: float) -> bool:
        """Whether anything is said or typed within the patience; it is dropped."""
        ear = self._ports.ear
        if ear is None:
            return self._drop_typed(patience_s)
        typed = self._drop_typed(0.0)
        return typed or not isinstance(ear.hear(self._grammar(FULL_DUPLEX), patience_s), Nothing)

    def _drop_typed(self, patience_s: float) -> bool:
        keys = self._ports.keys
        typed = keys is not None and keys.line(patience_s) is not None
        while keys is not None and keys.line(0.0) is not None:
            continue
        return typed


def _engine_of(heard: Utterance) -> str | None:
    """The engine's text where it isn't the one of the record's header: a voice's takes counted."""
    return heard.engine if TAKES in heard.evidence else None
