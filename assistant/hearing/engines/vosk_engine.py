"""Vosk with any model folder that takes run-time phrase lists.

The phrase list trains a two-word language model, so any listed word may follow any other. So the
recogniser is asked for its best few texts, and the likeliest that is exactly an admitted phrase
counts; how far it leads all other texts, admitted or not, is the evidence. Words that the model
doesn't know would be dropped from a phrase without an error; they are looked up first. Our own
endpointing decides when an utterance is over.
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
from assistant.hearing.acceptance import Weights, shipped_bars
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.following import BLOCK_BYTES, Follower
from assistant.hearing.engines.opinion import Texts, evidence_of, first_meant, margin_of
from assistant.hearing.engines.phrases import UNKNOWN, unheard_phrases, vosk_list
from assistant.hearing.engines.variation import stretched
from assistant.hearing.lines import Grammar
from assistant.hearing.source import RATE

_KEPT_GRAMMARS: Final = 5
PACES: Final = (0.93, 1.07)

ALTERNATIVES: Final = 20
"""Texts asked for. Of 50 clean readings the first text was right in 43, one of 20 in 45; of 68
commands in noise 3 dB down 41 and 51."""

_FST_MAGIC: Final = (2125659606).to_bytes(4, "little")
"""How a graph's file begins (OpenFst, kFstMagicNumber)."""

_FAR_BEHIND: Final = 6.0
"""An admitted phrase this far behind another text was not said."""


class VoskEngine:
    """A phrase list on a Vosk model.

    Args:
        folder: the unpacked model.
        paces: at which a whole utterance is heard again; none leaves it at one hearing, weighed
            like an early look.
        alternatives: most texts that are asked for.
        streaming: whether it also follows an utterance while it lasts, for `partial`.
        all_words: whether a phrase with a word that the model lacks is an error, as it must be
            where nothing else hears it; else such phrases are left out.

    Raises:
        EngineUnavailable: the package is missing, the folder is no model, or one whose graph is
            fixed, so that it would listen for everything instead of the phrases.
    """

    name = "vosk"

    def __init__(
        self,
        folder: Path,
        paces: Sequence[float] = PACES,
        *,
        alternatives: int = ALTERNATIVES,
        streaming: bool = True,
        all_words: bool = True,
    ) -> None:
        self._paces = tuple(paces)
        self._alternatives = alternatives
        self._streaming = streaming
        self._all_words = all_words
        self.folder = folder.resolve()
        self.model = self.folder.name
        self._vosk, self._model = load_model(self.folder)
        self._listed = bool(self._model.vosk_model_find_word(UNKNOWN) >= 0)
        self._recognizers: OrderedDict[tuple[str, ...], tuple[Any, Follower]] = OrderedDict()
        self._now: tuple[Any, Follower] | None = None
        self._waiting = bytearray()
        self._grammar: Grammar | None = None
        self._meanings: dict[str, object] = {}
        self._bars = shipped_bars()[self.name]

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
            known = self._known(grammar, phrases)
            following = self._recognizer(known) if self._streaming else None
            kept = (following, Follower(self._recognizer(known)))
            self._recognizers[phrases] = kept
            if len(self._recognizers) > _KEPT_GRAMMARS:
                self._recognizers.popitem(last=False)
        self._recognizers.move_to_end(phrases)
        if self._now is not None:
            self._now[1].leave()
        self._now = kept
        if grammar is not self._grammar:
            self._grammar, self._meanings = grammar, {}

    def forget(self) -> None:
        """What comes next comes from elsewhere; Vosk's features go on over utterances otherwise."""
        self._recognizers.clear()
        self._now = None

    def _known(self, grammar: Grammar, phrases: tuple[str, ...]) -> tuple[str, ...]:
        if self._all_words:
            if unheard := unheard_phrases(grammar, self.unknown_words):
                raise UnknownWords(f"{self.name} ({self.model})", unheard)
            return phrases
        lacking = self.unknown_words(grammar.words())
        return tuple(phrase for phrase in phrases if lacking.isdisjoint(phrase.split()))

    def _recognizer(self, phrases: tuple[str, ...]) -> Any:  # noqa: ANN401 - ships no types
        listed = vosk_list(phrases, rejects=self._listed)
        made = self._vosk.KaldiRecognizer(self._model, RATE, listed)
        made.SetMaxAlternatives(self._alternatives)
        return made

    def _recognizers_in_use(self) -> tuple[Any, Follower]:
        if self._now is None:
            raise RuntimeError("use() comes before start()")
        return self._now

    def start(self) -> None:
        """An utterance begins."""
        if self._streaming:
            self._recognizers_in_use()[0].Reset()
        self._recognizers_in_use()[1].start()
        self._waiting = bytearray()

    def feed(self, pcm: bytes) -> None:
        """Decode more of the utterance, in blocks of the size that Vosk likes.

        What Vosk's own endpointer says is passed over: the ear knows when an utterance is over.
        """
        self._recognizers_in_use()[1].feed(pcm)
        if not self._streaming:
            return
        self._waiting += pcm
        while len(self._waiting) >= BLOCK_BYTES:
            self._recognizers_in_use()[0].AcceptWaveform(bytes(self._waiting[:BLOCK_BYTES]))
            del self._waiting[:BLOCK_BYTES]

    def partial(self) -> str:
        """The words so far; "" when it doesn't follow."""
        if not self._streaming:
            return ""
        found = json.loads(self._recognizers_in_use()[0].PartialResult()).get("partial", "")
        return self.respelled(str(found))

    def glance(self) -> Recognized:
        """What the utterance would be if it ended now: the whole heard once, at its pace."""
        return self._weighed(self.texts(), (), self._bars.early)

    def finish(self) -> Recognized:
        """The utterance is over: the whole is heard at three paces."""
        weights = self._bars.weights if self._paces else self._bars.early
        return self._weighed(self.texts(), self.texts_at_other_paces(), weights)

    def texts(self) -> Texts:
        """The likeliest texts of the whole so far."""
        return self._recognizers_in_use()[1].texts()

    def texts_at_other_paces(self) -> list[Texts]:
        """The same with the sound a little slower and a little faster."""
        follower = self._recognizers_in_use()[1]
        return [follower.texts_of(stretched(follower.heard, pace)) for pace in self._paces]

    def _weighed(self, texts: Texts, others: Sequence[Texts], weights: Weights) -> Recognized:
        """The likeliest admitted phrase, and how likely it is."""
        text, means = first_meant(texts, self.meaning)
        if means is None or margin_of(texts, self.meaning, means) <= -_FAR_BEHIND:
            return Recognized(self.respelled(texts[0][0]) if texts else "", 0.0)
        details = evidence_of(texts, others, self.meaning, text)
        return Recognized(self.respelled(text), weights.confidence(details), details)

    def meaning(self, text: str) -> object:
        """What a text means, however its words are spelled; None when nothing."""
        if text not in self._meanings:
            intent = self._grammar.match(self.respelled(text)) if self._grammar and text else None
            self._meanings[text] = (intent.name, intent.slots) if intent else None
        return self._meanings[text]

    def respelled(self, text: str) -> str:
        """The admitted phrase that sounds so, or the text itself."""
        return self._grammar.respelled(text) if self._grammar else text


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
    for name in ("HCLr.fst", "Gr.fst"):
        _look_at_graph(folder, name)


def _look_at_graph(folder: Path, name: str) -> None:
    """Refuse a graph that is none: vosk would go on without it and crash at the first phrase."""
    found = [place for place in (folder / "graph" / name, folder / name) if place.is_file()]
    if not found:
        raise EngineUnavailable(f"{folder}: not a whole Vosk model, graph/{name} is missing")
    with found[0].open("rb") as file:
        if file.read(len(_FST_MAGIC)) != _FST_MAGIC:
            raise EngineUnavailable(f"{found[0]}: damaged, no graph begins so; fetch it again")
