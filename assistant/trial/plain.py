"""An engine driven as its own examples drive it: what our hearing path is measured against.

PocketSphinx: its `Endpointer` with the library's defaults cuts the sound, a decoder with the
library's defaults and the same JSGF grammar hears each piece, and its words are taken as they are.
Vosk: a recogniser with the same phrase list and, as in its own example of a list, "[unk]" for other
speech gets all the sound in blocks of 0.128 s; the first result that holds words is taken. When an
utterance is over is up to the model's conf/model.conf. Any other engine: pieces cut by
PocketSphinx's `Endpointer`, and the engine's words taken as they are. Nothing is rejected but words
that are no phrase.

None of them may ever find an end where a machine runs on. When the trial says that nobody would
wait longer (`session.LATE_S`), what the engine makes of the sound so far is its answer, as if it
had ended there by itself; if it has no words yet, nobody has been heard.
"""

from __future__ import annotations

import json
from abc import ABC, abstractmethod
from collections.abc import Callable, Iterator
from typing import Any, Final

from assistant.hearing.acceptance import EngineBars, judge
from assistant.hearing.ear import Heard, Nothing
from assistant.hearing.engines import Engine, Recognized
from assistant.hearing.engines.phrases import vosk_list
from assistant.hearing.lines import Grammar
from assistant.hearing.source import FRAME_S, RATE, Source
from assistant.language.intent import Cost

_LONGEST_S: Final = 12.0
"""A piece is ended after this, as our ear does: where noise never lets the endpointer end it."""

_BLOCK_BYTES: Final = 4096


def plain_listener(source: Source, name: str, engine: Engine) -> _Plain:
    """The plainest way to hear with this engine."""
    kind = name.partition(":")[0]
    if kind == "pocketsphinx":
        return PlainPocketSphinx(source)
    if kind == "vosk":
        return PlainVosk(source, engine)
    return LibraryCut(source, engine)


class _Plain(ABC):
    """The part that is the same for all: waiting, and turning words into what was meant."""

    name = "plain"

    def __init__(self, source: Source) -> None:
        self._frames: Iterator[bytes] = source.frames()
        self._now_s = 0.0

    @abstractmethod
    def _use(self, grammar: Grammar) -> None:
        """Listen for this grammar."""

    @abstractmethod
    def _take(self, frame: bytes) -> Recognized | None:
        """Take a frame; the words when the engine says that an utterance is over."""

    @property
    @abstractmethod
    def _within(self) -> bool:
        """Whether something is being said, as far as the engine knows."""

    @abstractmethod
    def _give_up(self) -> Recognized:
        """End what is being said here and now; its words so far."""

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """Wait for the first utterance that the engine's own endpointing ends.

        Args:
            grammar: what may be said now.
            patience_s: how long to wait for its beginning; None waits for ever.
            going: asked at every frame; what is being said when it says no is ended there.
        """
        self._use(grammar)
        waited = 0.0
        for frame in self._frames:
            self._now_s += FRAME_S
            found = self._take(frame)
            if found is not None:
                return self._heard(grammar, found)
            waited += FRAME_S
            if going is not None and not going():
                return self._heard(grammar, self._give_up()) if self._within else Nothing("stopped")
            if patience_s is not None and waited >= patience_s and not self._within:
                return Nothing("silence")
        return Nothing("ended")

    def _heard(self, grammar: Grammar, found: Recognized) -> Heard:
        intent = grammar.match(found.text) if found.text else None
        why = self._against(grammar, found, intent) if intent else "no phrase"
        return Heard(
            intent=None if why else intent,
            text=found.text,
            confidence=found.confidence,
            verdict="unclear" if why else "accepted",
            why=why,
            clip=b"",
            began_s=self._now_s,
            ended_s=self._now_s,
            decided_s=self._now_s,
            snr_db=None,
            engine=self.name,
            evidence=found.details,
        )

    def _against(self, grammar: Grammar, found: Recognized, intent: Any) -> str:  # noqa: ANN401
        """What speaks against acting on it: nothing, for a plain engine."""
        del grammar, found, intent
        return ""


class _Cut(_Plain):
    """Pieces cut by PocketSphinx's endpointer."""

    def __init__(self, source: Source) -> None:
        import pocketsphinx  # noqa: PLC0415 - loads a native library

        super().__init__(source)
        self._endpointer: Any = pocketsphinx.Endpointer()
        self._new_endpointer = pocketsphinx.Endpointer
        self._waiting = b""
        self._speaking = False
        self._length_s = 0.0

    @abstractmethod
    def _start(self) -> None:
        """A piece begins."""

    @abstractmethod
    def _feed(self, pcm: bytes) -> None:
        """More of the piece."""

    @abstractmethod
    def _finish(self, *, too_long: bool = False) -> Recognized:
        """The piece is over."""

    @property
    def _within(self) -> bool:
        return self._speaking

    def _take(self, frame: bytes) -> Recognized | None:
        self._waiting += frame
        size = self._endpointer.frame_bytes
        while len(self._waiting) >= size:
            piece, self._waiting = self._waiting[:size], self._waiting[size:]
            speech = self._endpointer.process(piece)
            if speech is not None:
                self._more(speech)
            too_long = self._speaking and self._length_s >= _LONGEST_S
            if self._speaking and (too_long or not self._endpointer.in_speech):
                if too_long:
                    self._endpointer = self._new_endpointer()
                self._speaking = False
                return self._finish(too_long=too_long)
        return None

    def _give_up(self) -> Recognized:
        self._endpointer = self._new_endpointer()
        self._speaking = False
        return self._finish()

    def _more(self, speech: bytes) -> None:
        if not self._speaking:
            self._speaking = True
            self._length_s = 0.0
            self._start()
        self._length_s += len(speech) / (2 * RATE)
        self._feed(speech)


class PlainPocketSphinx(_Cut):
    """PocketSphinx as in its own live example, with a grammar in place of the language model."""

    name = "pocketsphinx, plain"

    def __init__(self, source: Source) -> None:
        super().__init__(source)
        self._decoder: Any = None
        self._text = ""

    def _use(self, grammar: Grammar) -> None:
        import pocketsphinx  # noqa: PLC0415 - as above

        text = grammar.jsgf()
        if text == self._text:
            return
        self._decoder = _decoder(pocketsphinx, grammar, text)
        self._text = text

    def _start(self) -> None:
        self._decoder.start_utt()

    def _feed(self, pcm: bytes) -> None:
        self._decoder.process_raw(pcm, no_search=False, full_utt=False)

    def _finish(self, *, too_long: bool = False) -> Recognized:
        del too_long  # a decoder that follows the sound has its words anyway
        self._decoder.end_utt()
        found = self._decoder.hyp()
        return Recognized("" if found is None else str(found.hypstr or "").strip(), 1.0)


_decoders: dict[str, Any] = {}


def _decoder(library: Any, grammar: Grammar, text: str) -> Any:  # noqa: ANN401 - ships no types
    """A decoder for this grammar, kept for the process: loading one takes a third of a second."""
    if text not in _decoders:
        made = library.Decoder(lm=None, loglevel="FATAL")
        for word, ways in grammar.pronunciations.items():
            if made.lookup_word(word) is None:
                for number, phones in enumerate(ways, start=1):
                    made.add_word(word if number == 1 else f"{word}({number})", phones, update=True)
        made.add_jsgf_string("plain", text)
        made.activate_search("plain")
        _decoders[text] = made
    return _decoders[text]


class PlainVosk(_Plain):
    """Vosk as in its own microphone example, with a phrase list."""

    name = "vosk, plain"

    def __init__(self, source: Source, engine: Any) -> None:  # noqa: ANN401 - a VoskEngine
        from assistant.hearing.engines.vosk_engine import load_model  # noqa: PLC0415 - slow to load

        super().__init__(source)
        self._vosk, self._model = load_model(engine.folder)
        self._rejects = bool(engine.rejects)
        self._phrases: tuple[str, ...] = ()
        self._recognizer: Any = None
        self._waiting = b""
        self._words: bool | None = False

    def _use(self, grammar: Grammar) -> None:
        phrases = grammar.vosk_phrases()
        if phrases != self._phrases:
            listed = vosk_list(phrases, rejects=self._rejects)
            self._recognizer = self._vosk.KaldiRecognizer(self._model, RATE, listed)
            self._phrases = phrases

    @property
    def _within(self) -> bool:
        if self._words is None:  # asked once a block
            self._words = bool(json.loads(self._recognizer.PartialResult()).get("partial"))
        return self._words

    def _take(self, frame: bytes) -> Recognized | None:
        self._waiting += frame
        if len(self._waiting) < _BLOCK_BYTES:
            return None
        block, self._waiting = self._waiting, b""
        self._words = None
        if not self._recognizer.AcceptWaveform(block):
            return None
        found = self._give_up()
        return found if found.text else None

    def _give_up(self) -> Recognized:
        # Not FinalResult: that forgets the channel, which a stream that goes on would keep.
        self._words = False
        return Recognized(str(json.loads(self._recognizer.Result()).get("text", "")), 1.0)


class LibraryCut(_Cut):
    """Any engine behind PocketSphinx's endpointer; with bars, behind our acceptance too."""

    def __init__(self, source: Source, engine: Engine, bars: EngineBars | None = None) -> None:
        super().__init__(source)
        self._engine = engine
        self._bars = bars
        self.name = f"{engine.name} behind PocketSphinx's endpointer"

    def _use(self, grammar: Grammar) -> None:
        self._engine.use(grammar)

    def _start(self) -> None:
        self._engine.start()

    def _feed(self, pcm: bytes) -> None:
        self._engine.feed(pcm)

    def _finish(self, *, too_long: bool = False) -> Recognized:
        if (
            too_long and self._bars is not None
        ):  # as in our ear: no phrase, and costly to go through
            return Recognized("", 0.0)
        return self._engine.finish()

    def _against(self, grammar: Grammar, found: Recognized, intent: Any) -> str:  # noqa: ANN401
        if self._bars is None:
            return ""
        cost: Cost = grammar.cost_of(intent.name)
        return judge(self._bars, found, intent, cost, None).why
