"""Vosk with any model folder that takes run-time phrase lists.

The phrase list trains a two-word language model, so any listed word may follow any other: what
comes out counts only when the whole text is exactly an admitted phrase (the ear checks that).
Words that the model doesn't know would be dropped from a phrase without an error; they are looked
up first. Our own endpointing decides when an utterance is over.
"""

from __future__ import annotations

import atexit
import json
from collections import OrderedDict
from collections.abc import Iterable, Sequence
from functools import cache
from pathlib import Path
from typing import Any, Final

from assistant.errors import EngineUnavailable, UnknownWords
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.phrases import unheard_phrases
from assistant.hearing.engines.variation import stretched
from assistant.hearing.lines import Grammar
from assistant.hearing.source import RATE, room_tone

_UNKNOWN: Final = "[unk]"
_BLOCK_BYTES: Final = 4096
"""0.128 s: the size that the maintainer calls optimal (library facts, endpointing)."""

_KEPT_GRAMMARS: Final = 16
_RIGHT_CONTEXT_S: Final = 0.3
PACES: Final = (0.93, 1.07)


class VoskEngine:
    """A phrase list on a Vosk model.

    Args:
        folder: the unpacked model.
        paces: at which a whole utterance is heard again.

    Raises:
        EngineUnavailable: the package is missing, the folder is no model, or one whose graph is
            fixed, so that it would listen for everything instead of the phrases.
    """

    name = "vosk"

    def __init__(self, folder: Path, paces: Sequence[float] = PACES) -> None:
        self._paces = tuple(paces)
        self.folder = folder.resolve()
        self.model = self.folder.name
        self._vosk, self._model = load_model(self.folder)
        self._listed = bool(self._model.vosk_model_find_word(_UNKNOWN) >= 0)
        self._recognizers: OrderedDict[tuple[str, ...], tuple[Any, Any]] = OrderedDict()
        self._now: tuple[Any, Any] | None = None
        self._heard = bytearray()
        self._waiting = bytearray()
        self._text = ""

    @property
    def rejects(self) -> bool:
        """Whether the model has the word "[unk]", which catches other speech."""
        return self._listed

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Words missing from the model."""
        find = self._model.vosk_model_find_word
        return frozenset(word for word in words if find(word) < 0)

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next utterance on; a recogniser each is kept.

        Raises:
            UnknownWords: a phrase holds a word that the model doesn't know.
        """
        phrases = grammar.vosk_phrases()
        kept = self._recognizers.get(phrases)
        if kept is None:
            if unheard := unheard_phrases(grammar, self.unknown_words):
                raise UnknownWords(f"{self.name} ({self.model})", unheard)
            kept = (self._recognizer(phrases), self._recognizer(phrases))
            self._recognizers[phrases] = kept
            if len(self._recognizers) > _KEPT_GRAMMARS:
                self._recognizers.popitem(last=False)
        self._recognizers.move_to_end(phrases)
        self._now = kept

    def _recognizer(self, phrases: tuple[str, ...]) -> Any:  # noqa: ANN401 - ships no types
        listed = [*phrases, _UNKNOWN] if self._listed else list(phrases)
        made = self._vosk.KaldiRecognizer(self._model, RATE, json.dumps(listed, ensure_ascii=False))
        made.SetWords(True)
        return made

    def _recognizers_in_use(self) -> tuple[Any, Any]:
        if self._now is None:
            raise RuntimeError("use() comes before start()")
        return self._now

    def start(self) -> None:
        """An utterance begins."""
        self._recognizers_in_use()[0].Reset()
        self._heard = bytearray()
        self._waiting = bytearray()
        self._text = ""

    def feed(self, pcm: bytes) -> None:
        """Decode more of the utterance, in blocks of the size that Vosk likes."""
        self._heard += pcm
        self._waiting += pcm
        while len(self._waiting) >= _BLOCK_BYTES:
            self._accept(bytes(self._waiting[:_BLOCK_BYTES]))
            del self._waiting[:_BLOCK_BYTES]

    def _accept(self, block: bytes) -> None:
        recognizer = self._recognizers_in_use()[0]
        if recognizer.AcceptWaveform(block):
            # Vosk's own endpoint came before ours: what it has so far is a part of the utterance.
            self._text = f"{self._text} {_text(recognizer.Result())}".strip()

    def partial(self) -> str:
        """The words so far."""
        current = json.loads(self._recognizers_in_use()[0].PartialResult()).get("partial", "")
        return f"{self._text} {current}".strip()

    def finish(self) -> Recognized:
        """Flush the recogniser, then hear the whole again at two other paces."""
        self._accept(bytes(self._waiting) + room_tone(round(_RIGHT_CONTEXT_S * RATE)))
        result = json.loads(self._recognizers_in_use()[0].FinalResult())
        text = f"{self._text} {result.get('text', '')}".strip()
        if not text or _UNKNOWN in text.split():
            return Recognized(text, 0.0)
        words = [float(word["conf"]) for word in result.get("result", ())]
        least = min(words, default=0.0)
        again = [self._again(stretched(bytes(self._heard), pace)) for pace in self._paces]
        agreement = (1 + sum(other == text for other in again)) / (1 + len(again))
        details = {"agreement": agreement, "least_word": least}
        return Recognized(text, min(1.0, least) * agreement, details)

    def _again(self, pcm: bytes) -> str:
        recognizer = self._recognizers_in_use()[1]
        recognizer.Reset()
        text = ""
        sound = pcm + room_tone(round(_RIGHT_CONTEXT_S * RATE))
        for at in range(0, len(sound), _BLOCK_BYTES):
            if recognizer.AcceptWaveform(sound[at : at + _BLOCK_BYTES]):
                text = f"{text} {_text(recognizer.Result())}".strip()
        return f"{text} {_text(recognizer.FinalResult())}".strip()


@cache
def load_model(folder: Path) -> tuple[Any, Any]:
    """The vosk module and the model in this folder, loaded once a process and shared.

    Raises:
        EngineUnavailable: the package is missing, or the folder holds no model of the right kind.
    """
    _look_at(folder)
    try:
        import vosk  # noqa: PLC0415 - slow to load and process-wide, only when chosen
    except ImportError as problem:
        raise EngineUnavailable("vosk can't be loaded; pip install vosk") from problem
    vosk.SetLogLevel(-1)
    try:
        return vosk, vosk.Model(str(folder))
    except Exception as problem:  # vosk raises nothing narrower
        raise EngineUnavailable(f"vosk can't load the model in {folder}: {problem}") from problem


# vosk's own destructor needs its module, so a model must go before the interpreter does.
atexit.register(load_model.cache_clear)


def _look_at(folder: Path) -> None:
    """Refuse a folder that vosk would fail on, or would listen with to everything."""
    if not folder.is_dir():
        raise EngineUnavailable(f"{folder}: no such folder; `gloveson model list` shows the models")
    if not any((folder / place).is_file() for place in ("am/final.mdl", "final.mdl")):
        raise EngineUnavailable(f"{folder}: not an unpacked Vosk model, am/final.mdl is missing")
    if not any((folder / place).is_file() for place in ("graph/HCLr.fst", "HCLr.fst")):
        raise EngineUnavailable(
            f"{folder}: this model's graph is fixed, it can't be given phrases at run time; take "
            "a small model or one whose name says lgraph"
        )


def _text(result: str) -> str:
    return str(json.loads(result).get("text", ""))
