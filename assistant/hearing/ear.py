"""The ear: sound from any source becomes what was meant, or the reason why nothing was.

One thread owns an ear. Time is counted in sound, not by the clock, so that a file and a live
microphone behave the same.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from typing import Final, Literal

from assistant.hearing.acceptance import EngineBars, judge, shipped_bars
from assistant.hearing.activity import Detector, Endpointer, SileroDetector, Step
from assistant.hearing.answers import (
    FAR_OFF,
    Heard,
    Hindrance,
    Nothing,
    Reason,
    Speech,
    Trouble,
)
from assistant.hearing.ending import Utterance, sure_already, whole_already
from assistant.hearing.engines import TAKES, Engine, Recognized
from assistant.hearing.level import LevelWatch, measure
from assistant.hearing.lines import Grammar
from assistant.hearing.masking import Masking
from assistant.hearing.source import FRAME_S, TICK_S, Source
from assistant.language.intent import Cost, Intent

__all__ = ["FAR_OFF", "GUARD_S", "Ear", "Heard", "Nothing", "Reason", "Speech", "Trouble"]

GUARD_S: Final = 0.3
"""How long the ear stays shut after the assistant's own voice (200-300 ms: library facts)."""

GOES_ON_S: Final = 0.8
"""Who dictates without waiting to be told to begins within this. With it, of a sentence said 0.1 to
0.5 s after "take a note" nothing was lost (0.6 s: all of it at 0.4 s, for a beginning is noticed
late); without the wait two thirds to all of it."""

_ANSWER_S: Final = 10.0
"""How soon words that were asked for again must come to be an answer."""


def _ignore(_trouble: Trouble) -> None:
    """The default for callers that don't watch the microphone."""


class Ear:
    """Hears one utterance at a time.

    Args:
        source: where the sound comes from.
        engine: the recogniser.
        bars: what it takes to be accepted; those shipped for the engine if left out.
        detector: voice activity; Silero if left out.
        trailing_s: silence that ends an utterance that is a whole phrase.
        unfinished_s: silence that ends one that isn't, at least as long.
        longest_s: an utterance longer than this is ended and unclear.
        masking: when noise hides speech, and what is too far off; the shipped figures if left out.
        trouble: called, in the thread that hears, when the microphone is lost, back, dead, ...
    """

    def __init__(  # noqa: PLR0913 - one place where the parts of hearing are joined
        self,
        source: Source,
        engine: Engine,
        *,
        bars: EngineBars | None = None,
        detector: Detector | None = None,
        trailing_s: float = 0.45,
        unfinished_s: float = 0.9,
        longest_s: float = 12.0,
        masking: Masking | None = None,
        trouble: Callable[[Trouble], None] = _ignore,
    ) -> None:
        self._source = source
        self._engine = engine
        self._bars = bars or shipped_bars()[engine.name]
        self._trailing_s = trailing_s
        self._endpointer = Endpointer(detector or SileroDetector(), unfinished_s, longest_s)
        self._level = LevelWatch()
        self._masking = masking or Masking(self._bars.masked_db)
        self._trouble = trouble
        self._frames: Iterator[bytes] = source.frames()
        self._guard_s = 0.0
        self._dropped = source.dropped
        self._lost = False
        self._dead = False
        self._noting = False
        self._asked: tuple[object, float] = (None, 0.0)
        self.now_s = 0.0

    @property
    def noise_dbfs(self) -> float | None:
        """The room's level between utterances."""
        return self._level.noise_dbfs

    def deafen(self) -> None:
        """Shut the ear: the assistant is about to speak."""
        self._source.deafen(True)
        self.discard(0.0)

    def listen_again(self, guard_s: float = GUARD_S) -> None:
        """Open the ear: the assistant has finished; what comes within the guard is not heard."""
        self._source.deafen(False)
        self.discard(guard_s)

    def discard(self, guard_s: float = 0.0) -> None:
        """Forget all sound that came so far, and that of the next `guard_s` seconds."""
        self._source.discard()
        self._endpointer.forget()
        self._guard_s = guard_s

    def close(self) -> None:
        """Give the source back."""
        self._source.close()

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """Wait for one utterance.

        Args:
            grammar: what may be said now.
            patience_s: how long to wait for its beginning; None waits for ever.
            going: asked at every frame; the wait is stopped when it says no (full duplex: while
                the assistant speaks). An utterance that has begun is still heard to its end.

        Raises:
            UnknownWords: the engine doesn't know a word of the grammar.
        """
        self._engine.use(grammar)
        waited = 0.0
        while True:
            if going is not None and not going():
                return Nothing("stopped")
            before = self._hindrance()
            frame = next(self._frames, None)
            if frame is None:
                return Nothing("ended")
            waited += FRAME_S if frame else TICK_S
            step = self._take(frame)
            if step is not None and step.phase == "begun":
                heard = self._utterance(grammar, step)
                if heard is not None and not self._not_for_us(heard):
                    return heard
            else:
                self._look_after_microphone()
            now = self._hindrance()
            if now is not None and now != before:
                return Nothing(now)
            if patience_s is not None and waited >= patience_s:
                return Nothing(now or "silence")

    def interjected(self, grammar: Grammar) -> Heard | Nothing:
        """What somebody began to say while the last decision was being made.

        Only sound that waits already is looked through for a beginning; then it is heard to its
        end. The last utterance's own sound is not in it.
        """
        waiting_s = self._source.waiting_s
        return self.hear(grammar, waiting_s) if waiting_s else Nothing("silence")

    def goes_on(self, closing: Grammar) -> Heard | Nothing:
        """What is said at once after the words that ask for a note, heard to its end.

        It belongs to the note: give it to `record_speech`. Waits `GOES_ON_S` for its beginning.
        """
        return self.hear(closing, max(GOES_ON_S, self._source.waiting_s))

    def _hindrance(self) -> Hindrance | None:
        """Why nobody can be heard now."""
        if self._lost:
            return "lost"
        if self._dead:
            return "dead"
        return "noise" if self._masking.masked and not self._noting else None

    def _look_after_microphone(self) -> None:
        """Tell of a microphone that has gone or come back."""
        before, self._lost = self._lost, self._source.lost
        if self._lost and not before:
            self._trouble("lost")
            self._endpointer.forget()
        elif before and not self._lost:
            self._trouble("back")

    def _not_for_us(self, heard: Heard) -> bool:
        """Whether this is noise, or talk too far off, that nobody wants to be asked about again.

        What would be acted on is never passed over like this: it is unclear, and asked again.
        What is doubtful may be noise: it is nowhere surely a voice (`activity.py`).
        """
        if self._noting or heard.intent is not None or heard.why == FAR_OFF:
            return False
        if self._endpointer.doubtful:
            return True
        return self._masking.hides(heard.snr_db) or self._masking.far_off(self._level.speech_dbfs())

    def _take(self, frame: bytes) -> Step | None:
        """Take a frame: level, guard, voice activity; None when there was nothing to hear."""
        if not frame:
            self.now_s += TICK_S
            return None
        self.now_s += FRAME_S
        level = measure(frame)
        self._watch(frame)
        if self._guard_s > 0:
            self._guard_s -= FRAME_S
            return None
        step = self._endpointer.take(frame)
        if step.phase == "begun":
            self._level.begin()
        if step.voiced:
            self._level.speech(level)
        elif step.phase == "quiet":
            self._level.room(level)
        return step

    def _watch(self, frame: bytes) -> None:
        self._level.life(measure(frame))
        self._masking.take(self._level.noise_dbfs)
        if self._level.dead != self._dead:
            self._dead = self._level.dead
            self._trouble("dead" if self._dead else "alive")
        if self._source.dropped > self._dropped:
            self._dropped = self._source.dropped
            self._trouble("dropped")

    def _utterance(self, grammar: Grammar, begun: Step) -> Heard | None:
        """Follow an utterance to its end; None when it was only a click or the sound was lost."""
        dropped = self._source.dropped
        self._engine.start()
        said = Utterance(self.now_s - FRAME_S * 2, self.now_s)
        self._feed(said, begun)
        ended = False
        recognized: Recognized | None = None
        clear = not self._masking.masked
        began = time.perf_counter()
        for frame in self._frames:
            step = self._take(frame)
            if step is None:
                if self._source.lost:
                    break
                continue
            self._feed(said, step)
            if step.phase == "too-short":
                if said.whole is None:
                    self._engine.finish()
                return None
            said.too_long = step.phase == "too-long"
            drowned = clear and self._masking.masked and not self._noting
            began = time.perf_counter()
            recognized = None if drowned else self._sure(grammar, said, step)
            over = step.phase in {"ended", "too-long"} or whole_already(
                self._engine, grammar, said, step, self._trailing_s
            )
            ended = over or drowned or recognized is not None
            if ended:
                break
        self._endpointer.end_now()
        if recognized is None:  # what is too long is no phrase, and costly to look through
            recognized = Recognized("", 0.0) if said.too_long else self._whole(said)
        spent = time.perf_counter() - began
        cut = self._source.dropped > dropped or (not ended and self._source.lost)
        return self._decide(grammar, said, recognized, spent, "sound was lost" if cut else "")

    def _feed(self, said: Utterance, step: Step) -> None:
        """Give the engine more of an utterance, or all of it anew when it had finished already."""
        sound = b"".join(step.frames)
        said.clip += sound
        finished = said.whole is not None
        if step.voiced:
            said.goes_on(self.now_s)
        if not finished:
            self._engine.feed(sound)
        elif step.voiced:
            self._engine.start()
            self._engine.feed(bytes(said.clip))

    def _whole(self, said: Utterance) -> Recognized:
        return self._engine.finish() if said.whole is None else said.whole

    def _sure(self, grammar: Grammar, said: Utterance, step: Step) -> Recognized | None:
        snr_db = self._level.snr_db
        return sure_already(self._engine, self._bars, grammar, said, step, snr_db)

    def _decide(
        self,
        grammar: Grammar,
        said: Utterance,
        recognized: Recognized,
        spent_s: float,
        damage: str,
    ) -> Heard:
        if self._level.clipping:
            self._trouble("clipping")
        intent = grammar.match(recognized.text) if recognized.text else None
        cost = grammar.cost_of(intent.name) if intent else Cost.QUESTION
        snr = self._level.snr_db()
        judged = judge(self._bars, recognized, intent, cost, snr)
        why = "too long" if said.too_long else damage or judged.why
        level = self._level.speech_dbfs()
        if intent is not None and not why and not self._noting:
            why = self._misplaced(intent, level, snr)
        accepted = judged.verdict == "accepted" and not why
        if accepted and self._masking.far_off(level):
            self._masking.moved(level)
        elif accepted:
            self._masking.understood(level)
        return Heard(
            intent=intent if accepted else None,
            text=recognized.text,
            confidence=recognized.confidence,
            verdict="accepted" if accepted else "unclear",
            why=why,
            clip=bytes(said.clip),
            began_s=said.began_s,
            ended_s=said.voiced_s,
            decided_s=self.now_s + spent_s,
            snr_db=snr,
            engine=f"{self._engine.name}: {self._engine.model}"
            + (", with takes" if TAKES in recognized.details else ""),
            evidence=recognized.details,
        )

    def _misplaced(self, intent: Intent, speech_dbfs: float | None, snr_db: float | None) -> str:
        """What speaks against words that would count: hidden by noise, or from too far off.

        Who is asked again and says the same again is the one who was asked, wherever they stand
        now; a neighbor does not answer.
        """
        if self._masking.hides(snr_db):
            return "the noise masks it"
        if not self._masking.far_off(speech_dbfs):
            return ""
        meant, self._asked = self._asked, ((intent.name, intent.slots), self.now_s)
        again = meant[0] == self._asked[0] and self.now_s - meant[1] <= _ANSWER_S
        return "" if again else FAR_OFF

    def record_speech(
        self,
        closing: Grammar,
        until_silence_s: float = 8.0,
        longest_s: float = 120.0,
        first: Heard | None = None,
    ) -> Speech:
        """Keep free speech as sound; nothing in it is a command.

        Args:
            closing: the closing phrase ("end of note"), heard only as an utterance of its own.
            until_silence_s: silence that ends it as well.
            longest_s: it is ended after this.
            first: what `goes_on` has heard of it.
        """
        self._noting = True
        try:
            return self._note(closing, until_silence_s, longest_s, first)
        finally:
            self._noting = False

    def _note(
        self, closing: Grammar, until_silence_s: float, longest_s: float, first: Heard | None
    ) -> Speech:
        clip = bytearray()
        began = ended = self.now_s
        while True:
            heard, first = first or self.hear(closing, until_silence_s), None
            if isinstance(heard, Nothing):
                by: Literal["silence", "ended", "lost"] = "silence"
                if heard.reason == "ended":
                    by = "ended"
                elif heard.reason in ("lost", "dead"):
                    by = "lost"
                return Speech(bytes(clip), by, began, ended)
            if heard.intent is not None:
                return Speech(bytes(clip), "phrase", began, ended, heard.intent)
            began = heard.began_s if not clip else began
            ended = heard.ended_s
            clip += heard.clip
            if len(clip) / 32_000 >= longest_s:
                return Speech(bytes(clip), "limit", began, ended)
