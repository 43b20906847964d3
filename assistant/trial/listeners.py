"""Our hearing path for a trial, whole or with one part switched off.

Parts that can be switched off, each to see what it adds:

    rejection       everything that is a phrase is acted on, whatever the evidence
    early-decision  an utterance ends after the long silence only
    endpointing     the library's endpointer cuts utterances, engine and acceptance are ours
    voice-activity  WebRTC's detector (in PocketSphinx) in place of Silero's
    variation       one decoding of the whole utterance in place of several
    floor           the decodings get no noise floor (PocketSphinx only)
    masking         the ear never says that noise masks speech, nor that somebody is far off
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from typing import Any, Final, Protocol

from assistant.engines import PAIR, POCKETSPHINX, VOSK, open_engine
from assistant.errors import BadInput
from assistant.hearing.acceptance import Bar, EngineBars, shipped_bars
from assistant.hearing.activity import Detector
from assistant.hearing.ear import Ear, Heard, Nothing
from assistant.hearing.engines import Engine
from assistant.hearing.lines import Grammar
from assistant.hearing.masking import Unmasked
from assistant.hearing.source import Source
from assistant.language.intent import Cost, Intent
from assistant.trial.plain import LibraryCut, plain_listener

PARTS: Final = (
    "rejection",
    "early-decision",
    "endpointing",
    "voice-activity",
    "variation",
    "floor",
    "masking",
)

_NO_FLOOR_DB: Final = 200.0
"""A noise floor so far under the speech is less than the last bit."""


class Listener(Protocol):
    """What a trial needs of an ear."""

    def hear(self, grammar: Grammar, patience_s: float | None = None) -> Heard | Nothing:
        """Wait for one utterance; see `hearing.ear.Ear.hear`."""


MakeListener = Callable[[Source, str], Listener]
"""Makes what hears: from the sound and the label of who speaks ("" for nobody known)."""


@dataclass(frozen=True)
class Ours:
    """Makes our ear, the engine opened once a process.

    Attributes:
        engine: its name as `assistant.engines.open_engine` takes it.
        without: the part that is switched off, None for none.
    """

    engine: str
    without: str | None = None

    def __call__(self, source: Source, _speaker: str) -> Listener:
        """An ear on this source."""
        engine = _engine(self.engine, self.without)
        bars = _bars(engine, rejecting=self.without != "rejection")
        if self.without == "endpointing":
            return LibraryCut(source, engine, bars)
        detector: Detector | None = WebRtc() if self.without == "voice-activity" else None
        masking = Unmasked() if self.without == "masking" else None
        ear = Ear(source, engine, bars=bars, detector=detector, masking=masking)
        return _Late(ear) if self.without == "early-decision" else ear

    @property
    def model(self) -> str:
        """The engine's model."""
        return _engine(self.engine, self.without).model


@dataclass(frozen=True)
class Plain:
    """Makes the same engine driven plainly; see `trial.plain`."""

    engine: str

    def __call__(self, source: Source, _speaker: str) -> Listener:
        """The engine on this source."""
        return plain_listener(source, self.engine, _opened(self.engine))


@cache
def _opened(name: str) -> Engine:
    return open_engine(name)


@cache
def _engine(name: str, without: str | None) -> Engine:
    """The engine, made to decode once or without a noise floor where that is asked."""
    if without not in ("variation", "floor"):
        return _opened(name)
    kind = name.partition(":")[0]
    if kind == POCKETSPHINX:
        from assistant.hearing.engines.pocketsphinx_engine import (  # noqa: PLC0415 - 0.2 s to load
            WAYS,
            PocketSphinxEngine,
        )

        if without == "variation":
            return PocketSphinxEngine(WAYS[:1])
        return PocketSphinxEngine([(pace, _NO_FLOOR_DB) for pace, _ in WAYS])
    if kind == VOSK and without == "variation":
        from assistant.hearing.engines.vosk_engine import VoskEngine  # noqa: PLC0415 - as above

        opened = _opened(name)
        if isinstance(opened, VoskEngine):
            return VoskEngine(opened.folder, paces=())
    if kind == PAIR and without == "variation":
        from assistant.hearing.engines.pair import PairEngine  # noqa: PLC0415 - as above

        opened = _opened(name)
        if isinstance(opened, PairEngine):
            return PairEngine(opened.folder, paces=())
    raise BadInput(f"--without {without}: {name} has no such part")


def _bars(engine: Engine, *, rejecting: bool) -> EngineBars:
    shipped = shipped_bars()[engine.name]
    if rejecting:
        return shipped
    none = Bar(confidence=0.0, agreement=0.0, snr_db=-1000.0)
    return shipped.model_copy(update={"bars": dict.fromkeys(Cost, none)})


class WebRtc:
    """WebRTC's voice-activity detector, which lies in PocketSphinx: 1 or 0 a frame."""

    def __init__(self) -> None:
        import pocketsphinx  # noqa: PLC0415 - loads a native library

        self._vad: Any = pocketsphinx.Vad()

    def __call__(self, frame: bytes) -> float:
        """Whether the first 30 of the frame's 32 ms hold a voice."""
        return float(self._vad.is_speech(frame[: self._vad.frame_bytes]))


class _Late:
    """An ear that never decides before the long silence."""

    def __init__(self, ear: Ear) -> None:
        self._ear = ear

    def hear(self, grammar: Grammar, patience_s: float | None = None) -> Heard | Nothing:
        """As the ear, with a grammar in which everything might still go on."""
        return self._ear.hear(_NeverComplete(grammar), patience_s)


class _NeverComplete:
    """A grammar in which no phrase is known to be over."""

    def __init__(self, grammar: Grammar) -> None:
        self._grammar = grammar

    @property
    def language(self) -> str:
        """As it is."""
        return self._grammar.language

    @property
    def pronunciations(self) -> Mapping[str, tuple[str, ...]]:
        """As they are."""
        return self._grammar.pronunciations

    def match(self, text: str) -> Intent | None:
        """As it is."""
        return self._grammar.match(text)

    def words(self) -> frozenset[str]:
        """As they are."""
        return self._grammar.words()

    def words_by_phrase(self) -> Mapping[str, frozenset[str]]:
        """As they are."""
        return self._grammar.words_by_phrase()

    def jsgf(self) -> str:
        """As it is."""
        return self._grammar.jsgf()

    def vosk_phrases(self) -> tuple[str, ...]:
        """As they are."""
        return self._grammar.vosk_phrases()

    def respelled(self, text: str) -> str:
        """As it is."""
        return self._grammar.respelled(text)

    def cost_of(self, name: str) -> Cost:
        """As it is."""
        return self._grammar.cost_of(name)

    def complete_only(self, text: str) -> bool:
        """Never."""
        del text
        return False
