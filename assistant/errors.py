"""Errors that carry facts, so that voice, screen and log can each phrase them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

Level = Literal["error", "warning"]
_MOST_TOLD: Final = 100


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong in a file that a person wrote.

    Attributes:
        level: "error" stops the work, "warning" does not.
        code: short stable name of the rule, for example "unknown-key".
        file: path as the person gave it.
        line: 1-based line, 0 when no line applies.
        message: what is wrong and what would be right, in one or two sentences.
        path: steps, choices and states that lead to it (for proofs), else empty.
    """

    level: Level
    code: str
    file: str
    line: int
    message: str
    path: tuple[str, ...] = ()

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        return f"{where}: {self.level}: {self.message} [{self.code}]"


class GlovesOnError(Exception):
    """Base of every error that this package raises on purpose."""


class BadInput(GlovesOnError):  # noqa: N818 - reads as what it is
    """Bad usage or bad input: the command line answers with exit code 2."""


class BadFile(BadInput):
    """A file that a person wrote has errors; `findings` lists them all, in line order.

    The message tells the first hundred: nobody reads more, and a file may be an attack.
    """

    def __init__(self, findings: tuple[Finding, ...]) -> None:
        self.findings = findings
        told = [str(finding) for finding in findings[:_MOST_TOLD]]
        if len(findings) > _MOST_TOLD:
            told.append(f"and {len(findings) - _MOST_TOLD} more")
        super().__init__("\n".join(told))


class EngineUnavailable(GlovesOnError):  # noqa: N818
    """A recogniser or its model can't be loaded; the message says what to do."""


class UnknownWords(EngineUnavailable):
    """Phrases hold words that the engine doesn't know: {phrase: (word, ...)}."""

    def __init__(self, engine: str, unknown: dict[str, tuple[str, ...]]) -> None:
        self.engine = engine
        self.unknown = unknown
        listed = "; ".join(f'"{phrase}": {", ".join(words)}' for phrase, words in unknown.items())
        super().__init__(
            f"{engine} does not know these words, so the phrases could never be heard: {listed}"
        )


class AudioUnavailable(GlovesOnError):  # noqa: N818
    """No microphone, loudspeaker or audio file of the kind asked for; says which and why."""


class VoiceUnavailable(GlovesOnError):  # noqa: N818
    """Nothing here can speak; the message says what to install or which voice was asked for."""


class JournalUnwritable(GlovesOnError):  # noqa: N818
    """An entry could not be made durable: the job must stop aloud (safety invariant I6)."""


class JobInUse(BadInput):
    """Another process holds this job; the message names it."""


class RecordDamaged(GlovesOnError):  # noqa: N818
    """A record can't be read or doesn't verify; says which entry and why.

    Attributes:
        entry: 0-based number of the first bad entry, None when no entry is at fault.
    """

    def __init__(self, message: str, entry: int | None = None) -> None:
        self.entry = entry
        super().__init__(message)


class RecordSealed(GlovesOnError):  # noqa: N818
    """The record is closed by its seal, so nothing more may be written to it."""


class StoreUnavailable(GlovesOnError):  # noqa: N818
    """The store can't be reached or refuses; never says a password."""


class StoreRefused(GlovesOnError):  # noqa: N818
    """Entries that can't follow what the store holds of a job; says which and why.

    Attributes:
        entry: 0-based number of the first entry that was refused.
    """

    def __init__(self, message: str, entry: int) -> None:
        self.entry = entry
        super().__init__(message)


class NotSpeakable(BadInput):
    """A text has a sign or an abbreviation that the voice has no words for; it is named."""

    def __init__(self, sign: str, text: str) -> None:
        self.sign = sign
        self.text = text
        super().__init__(
            f'"{sign}" in "{text}" has no words for the voice; '
            f"write it out, or add it to the wording table"
        )
