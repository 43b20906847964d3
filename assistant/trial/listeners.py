"""Our hearing path for a trial, whole or with one part switched off, and the engine plainly."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Protocol

from assistant.hearing.activity import Detector
from assistant.hearing.ear import Ear, Heard, Nothing
from assistant.hearing.engines import Engine
from assistant.hearing.masking import Unmasked
from assistant.hearing.source import Source
from assistant.language.grammar import Grammar
from assistant.trial.parts import (
    ChangeGrammar,
    bars_without,
    engine_without,
    grammar_change,
    opened,
)
from assistant.trial.plain import LibraryCut, plain_listener


class Listener(Protocol):
    """What a trial needs of an ear."""

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """Wait for one utterance; see `hearing.ear.Ear.hear`.

        What has begun when `going` says no must come to an end: our ear has a longest utterance.
        """


MakeListener = Callable[[Source, str], Listener]
"""Makes what hears: from the sound and the label of who speaks ("" for nobody known)."""


@dataclass(frozen=True)
class Ours:
    """Makes our ear, the engine opened once a process.

    Attributes:
        engine: its name as `assistant.engines.open_engine` takes it.
        without: the part that is switched off (`trial.parts`), None for none.
    """

    engine: str
    without: str | None = None

    def __call__(self, source: Source, _speaker: str) -> Listener:
        """An ear on this source."""
        return self.listener(source, engine_without(self.engine, self.without))

    def listener(self, source: Source, engine: Engine) -> Listener:
        """The same on any engine that stands in for it."""
        bars = bars_without(self.engine, self.without)
        if self.without == "endpointing":
            return LibraryCut(source, engine, bars)
        detector: Detector | None = WebRtc() if self.without == "voice-activity" else None
        masking = Unmasked() if self.without == "masking" else None
        ear = Ear(source, engine, bars=bars, detector=detector, masking=masking)
        change = grammar_change(self.without)
        return ear if change is None else _Changed(ear, change)

    @property
    def model(self) -> str:
        """The engine's model."""
        return engine_without(self.engine, self.without).model


@dataclass(frozen=True)
class Plain:
    """Makes the same engine driven plainly; see `trial.plain`."""

    engine: str

    def __call__(self, source: Source, _speaker: str) -> Listener:
        """The engine on this source."""
        return plain_listener(source, self.engine, opened(self.engine))


class WebRtc:
    """WebRTC's voice-activity detector, which lies in PocketSphinx: 1 or 0 a frame."""

    def __init__(self) -> None:
        import pocketsphinx  # noqa: PLC0415 - loads a native library

        self._vad: Any = pocketsphinx.Vad()

    def __call__(self, frame: bytes) -> float:
        """Whether the first 30 of the frame's 32 ms hold a voice."""
        return float(self._vad.is_speech(frame[: self._vad.frame_bytes]))


class _Changed:
    """A listener for whom every grammar is changed before it is used."""

    def __init__(self, listener: Listener, change: ChangeGrammar) -> None:
        self._listener = listener
        self._change = change
        self._changed: dict[int, tuple[Grammar, Grammar]] = {}

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """As the listener, with the changed grammar."""
        kept = self._changed.get(id(grammar))
        if kept is None:  # the grammar is kept too, so that its id stays its own
            kept = self._changed[id(grammar)] = (grammar, self._change(grammar))
        return self._listener.hear(kept[1], patience_s, going)
