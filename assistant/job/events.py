"""What can happen to a job. Events are frozen, carry their time, and are what the journal keeps."""

from __future__ import annotations

from dataclasses import dataclass

from assistant.language.intent import Intent


@dataclass(frozen=True, slots=True)
class Stamp:
    """When, and a fresh number, both handed in by the edge.

    Attributes:
        wall: wall-clock time, RFC 3339, UTC.
        mono: seconds on a clock that never steps back within one run of the program.
        fresh: a random two-digit number, 10 to 99, that a challenge may use.
    """

    wall: str
    mono: float
    fresh: int


@dataclass(frozen=True, slots=True)
class Clip:
    """A recording kept in the record.

    Attributes:
        file: path inside the record folder.
        sha256: hex digest of the file.
        seconds: length.
    """

    file: str
    sha256: str
    seconds: float


EARLIER = ("trouble", "makeshift", "reading", "off", "left-out")
"""Kinds of what an earlier job can have left."""


@dataclass(frozen=True, slots=True)
class Earlier:
    """Something that an earlier job on the same machine left open or makeshift.

    Attributes:
        job: id of that job.
        began: when it began, RFC 3339.
        days: whole days between that and this job.
        kind: one of EARLIER.
        what: in the words of that job's checklist and phrasebook; may be said aloud.
        more: what people said or typed of it; never said aloud.
    """

    job: str
    began: str
    days: int
    kind: str
    what: str
    more: str = ""


@dataclass(frozen=True, slots=True)
class Opened:
    """The job begins.

    Attributes:
        job: job id.
        vehicle: what the shop calls this machine, for example its plate or frame number.
        who: roster id of the technician.
        second: roster id of the second person, if one is named.
        kit: the kit is checked before the first step.
        earlier: what earlier jobs on this machine left open, the latest first.
    """

    at: Stamp
    job: str
    vehicle: str
    who: str
    second: str | None = None
    kit: bool = False
    earlier: tuple[Earlier, ...] = ()


@dataclass(frozen=True, slots=True)
class Heard:
    """An intent was accepted, by voice, keys or typing.

    Attributes:
        via: "voice", "typed" or "key".
        confidence: 0 to 1, as the hearing path gave it; 1 for typed.
        engine: what heard it, where that isn't just the recogniser of the record's header.
    """

    at: Stamp
    intent: Intent
    via: str = "voice"
    confidence: float = 1.0
    clip: Clip | None = None
    engine: str | None = None


@dataclass(frozen=True, slots=True)
class Unclear:
    """Something was said that could not be accepted.

    Attributes:
        text: the recogniser's best guess, for the record only; it never counts.
        engine: as in `Heard`.
    """

    at: Stamp
    text: str = ""
    clip: Clip | None = None
    engine: str | None = None


@dataclass(frozen=True, slots=True)
class Dictated:
    """Free speech was recorded: a note, or the spoken name of a part.

    Attributes:
        clip: None when clips are switched off.
        seconds: how long the speech was.
    """

    at: Stamp
    seconds: float
    clip: Clip | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class Tick:
    """Time has passed; timers, holds and challenges may be over."""

    at: Stamp


@dataclass(frozen=True, slots=True)
class Resumed:
    """The program starts again on this job, after a pause, crash or shift change.

    Attributes:
        changed: the checklist's file is not any more what this job began with.
    """

    at: Stamp
    who: str
    changed: bool = False


Event = Opened | Heard | Unclear | Dictated | Tick | Resumed
