"""What a bay is joined to: small protocols, each with a real adapter and a scripted one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from assistant.hearing.ear import Heard, Nothing, Speech
from assistant.job.events import Clip, Event
from assistant.language.grammar import Grammar
from assistant.speaking.mouth import Mouth


class Ear(Protocol):
    """Hears one utterance at a time; see `assistant.hearing.ear.Ear`."""

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """Wait for one utterance."""

    def interjected(self, grammar: Grammar) -> Heard | Nothing:
        """What somebody began to say while the last decision was being made."""

    def goes_on(self, closing: Grammar) -> Heard | Nothing:
        """What is said at once after the words that ask for a note."""

    def record_speech(
        self,
        closing: Grammar,
        until_silence_s: float = 8.0,
        longest_s: float = 120.0,
        first: Heard | None = None,
    ) -> Speech:
        """Keep free speech as sound, what was heard of it already before the rest."""

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
    at_work: Callable[[str], None] = field(default=lambda _person: None)
    """Told the roster id of who is at work, after every event and before anything is said."""
