"""Scripted ports: one bay without sound, disk or clock, for tests of the program or of a checklist.

With `assistant.speaking.testing.ScriptedMouth` they are all that a bay needs:

    keeper, mouth = ScriptedKeeper(), ScriptedMouth()
    keys = ScriptedKeys("affirm", "step complete")
    ports = Ports(mouth, keeper, ScriptedClock(), lambda: 42, print, keys=keys)
"""

from __future__ import annotations

import hashlib
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from assistant.errors import JournalUnwritable
from assistant.hearing.ear import Heard, Nothing, Speech
from assistant.hearing.lines import Grammar
from assistant.job.events import Clip

_SECOND = 32_000  # bytes of 16 kHz mono s16le
_WORD_S = 0.4


class ScriptedClock:
    """Stands still until it is told to go on. Seconds; the wall clock begins on 2 March 2026."""

    def __init__(self) -> None:
        self.now = 1000.0

    def pass_time(self, seconds: float) -> None:
        """Let time go by."""
        self.now += seconds

    def mono(self) -> float:
        """See `Clock`."""
        return self.now

    def wall(self) -> str:
        """See `Clock`."""
        at = datetime(2026, 3, 2, tzinfo=UTC) + timedelta(seconds=self.now)
        return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


class ScriptedKeys:
    """Gives the lines of a script, one a call; nothing more once they are used up.

    Args:
        lines: what is typed, None where nothing is typed in time.
    """

    def __init__(self, *lines: str | None) -> None:
        self.waiting: deque[str | None] = deque(lines)

    def type(self, *lines: str | None) -> None:
        """More is typed."""
        self.waiting.extend(lines)

    @property
    def ended(self) -> bool:
        """Whether all has been given."""
        return not self.waiting

    def line(self, patience_s: float) -> str | None:
        """See `Keys`."""
        del patience_s
        return self.waiting.popleft() if self.waiting else None


class ScriptedEar:
    """Hears the lines of a script, exactly; what is no admitted phrase is unclear.

    While it is deaf, and in the guard time after, nothing reaches it: see `overhear`.

    Attributes:
        deaf: shut because the assistant speaks.
        grammars: what it was asked to listen for, in order.
        waiting: what will be said; a `Nothing` among it stands for silence or a lost microphone.
        meanwhile: what somebody begins to say while the next decision is being made.
    """

    def __init__(self, *lines: str | Nothing) -> None:
        self.deaf = False
        self.grammars: list[Grammar] = []
        self.waiting: deque[str | Nothing] = deque(lines)
        self.meanwhile: deque[str] = deque()

    def say(self, *lines: str | Nothing) -> None:
        """Somebody will say this, whenever it listens."""
        self.waiting.extend(lines)

    def overhear(self, line: str) -> None:
        """This sounds now: it is lost if the ear is deaf."""
        if not self.deaf:
            self.waiting.append(line)

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """See `Ear`."""
        del patience_s
        self.grammars.append(grammar)
        if going is not None and not going():
            return Nothing("stopped")
        if self.deaf or not self.waiting:
            return Nothing("silence")
        line = self.waiting.popleft()
        return line if isinstance(line, Nothing) else _heard(grammar, line)

    def interjected(self, grammar: Grammar) -> Heard | Nothing:
        """See `Ear`."""
        return _heard(grammar, self.meanwhile.popleft()) if self.meanwhile else Nothing("silence")

    def goes_on(self, closing: Grammar) -> Heard | Nothing:
        """See `Ear`."""
        return self.interjected(closing)

    def record_speech(
        self,
        closing: Grammar,
        until_silence_s: float = 8.0,
        longest_s: float = 120.0,
        first: Heard | None = None,
    ) -> Speech:
        """See `Ear`; a closing phrase or the end of the script ends it."""
        del until_silence_s, longest_s
        clip = b""
        while True:
            heard, first = first or self.hear(closing), None
            if isinstance(heard, Nothing):
                return Speech(clip, "silence", 0.0, len(clip) / _SECOND)
            if heard.intent is not None:
                return Speech(clip, "phrase", 0.0, len(clip) / _SECOND, heard.intent)
            clip += heard.clip

    def deafen(self) -> None:
        """See `Ear`."""
        self.deaf = True

    def listen_again(self) -> None:
        """See `Ear`."""
        self.deaf = False


def _heard(grammar: Grammar, line: str) -> Heard:
    intent = grammar.match(line)
    seconds = len(line.split()) * _WORD_S
    return Heard(
        intent=intent,
        text=line,
        confidence=1.0,
        verdict="accepted" if intent is not None else "unclear",
        why="" if intent is not None else "no phrase that counts now",
        clip=bytes(round(seconds * _SECOND) // 2 * 2),
        began_s=0.0,
        ended_s=seconds,
        decided_s=seconds,
        snr_db=None,
        engine="script",
    )


@dataclass(frozen=True, slots=True)
class ScriptedEntry:
    """What was given to a scripted keeper."""

    kind: str
    data: dict[str, Any]
    wall: str
    mono: float


@dataclass
class ScriptedKeeper:
    """Keeps entries and clips in memory.

    Attributes:
        entries: everything written, in order.
        clips: everything saved.
        sealed: the seal, empty before.
        failure: while set, nothing can be written, as on a full disk; see `JournalUnwritable`.
        doubtful: a write has failed and nobody has looked since: only `retry` helps.
    """

    entries: list[ScriptedEntry] = field(default_factory=list)
    clips: list[bytes] = field(default_factory=list)
    sealed: str = ""
    failure: str = ""
    doubtful: bool = False

    def of(self, kind: str) -> list[dict[str, Any]]:
        """The data of all entries of a kind."""
        return [entry.data for entry in self.entries if entry.kind == kind]

    def keep_clip(self, pcm: bytes) -> Clip | None:
        """See `Keeper`."""
        if not pcm:
            return None
        if self.failure:
            raise JournalUnwritable(self.failure)
        self.clips.append(pcm)
        name = f"clips/{len(self.clips):06d}.flac"
        return Clip(name, hashlib.sha256(pcm).hexdigest(), len(pcm) / _SECOND)

    def append(self, kind: str, data: dict[str, object], wall: str, mono: float) -> None:
        """See `Keeper`."""
        if self.failure or self.doubtful:
            self.doubtful = True
            raise JournalUnwritable(self.failure or "the last write failed; try again first")
        self.entries.append(ScriptedEntry(kind, dict(data), wall, mono))

    def retry(self) -> None:
        """See `Keeper`."""
        if self.failure:
            raise JournalUnwritable(self.failure)
        self.doubtful = False

    def seal(self, wall: str, mono: float) -> str:
        """See `Keeper`."""
        seal = hashlib.sha256(repr(self.entries).encode()).hexdigest()
        self.append("sealed", {"entries": len(self.entries)}, wall, mono)
        self.sealed = seal
        return seal
