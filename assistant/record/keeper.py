"""One job's record as the bay uses it: entries, clips, seal; and the job's header."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from assistant.errors import JournalUnwritable, RecordDamaged
from assistant.job.events import Clip, Event
from assistant.job.serial import KINDS, from_data
from assistant.record.clips import save_clip, try_clip
from assistant.record.clocks import CLOCK, Times, step_between
from assistant.record.entry import Entry
from assistant.record.folder import keep_checklist
from assistant.record.journal import Journal
from assistant.record.seal import seal
from assistant.record.signing import ShopKey

HEADER = "job"
KEPT = "clips"
"""Kind of the entry that tells whether replies' sound is kept from there on."""


@dataclass(frozen=True, slots=True)
class Header:
    """What is fixed when a job begins; the first entry of its journal.

    Attributes:
        main: name of the checklist's file among the copies in the record.
        sha256: of the checklist with its shared sections.
        options: every option with its value.
        stops_sha256: of the safety texts that this job speaks.
        roster: person id -> display name.
        wrenches: the shop's torque wrenches, as `job.serial.wrench_to_data` writes them.
        source: where the checklist's file was; empty in older records.
        apprentices: ids of those whose safety stops a second person reads back too.
        learned: step id -> minutes that it took in this shop's jobs before.
        clips: whether replies are kept as sound.
    """

    program: str
    language: str
    main: str
    checklist: str
    version: str
    sha256: str
    options: Mapping[str, bool | str]
    stops_sha256: str
    roster: Mapping[str, str]
    engine: str
    apprentices: tuple[str, ...] = ()
    source: str = ""
    wrenches: tuple[Mapping[str, Any], ...] = ()
    learned: Mapping[str, float] = field(default_factory=dict)
    clips: bool = True


class RecordKeeper:
    """Keeps a job's journal and clips. One thread uses it.

    Args:
        journal: open and locked.
        clips: whether what was said is kept as sound.
        key: signs the seal, if the shop has one.
    """

    def __init__(self, journal: Journal, *, clips: bool = True, key: ShopKey | None = None) -> None:
        self.journal = journal
        self._key = key
        self._clips = clips
        self._unsaved = b""  # the sound that the disk refused last
        last = journal.last
        self._times = Times(last.wall, None) if last is not None else None

    def begin(self, header: Header, files: Mapping[str, bytes], wall: str, mono: float) -> None:
        """Copy the checklist into the record and write the header.

        Raises:
            JournalUnwritable: the disk refuses.
        """
        covers = keep_checklist(self.journal.folder, files)
        data = {name: getattr(header, name) for name in Header.__slots__}
        data |= {"apprentices": [*header.apprentices], "wrenches": [*header.wrenches]}
        self.append(HEADER, {**data, "job": self.journal.job, "covers": covers}, wall, mono)

    def keep_no_clips(self, wall: str, mono: float) -> None:
        """From here on no sound is kept, and the record says so.

        Raises:
            JournalUnwritable: the disk refuses.
        """
        self._clips = False
        self.append(KEPT, {"kept": False}, wall, mono)

    def keep_clip(self, pcm: bytes) -> Clip | None:
        """Save what was said, unless clips are switched off.

        Raises:
            JournalUnwritable: the disk refuses.
        """
        if not self._clips or not pcm:
            return None
        try:
            ref = save_clip(self.journal.folder, pcm, disk=self.journal.disk)
        except JournalUnwritable:
            self._unsaved = pcm
            raise
        return Clip(ref.file, ref.sha256, ref.seconds)

    def append(self, kind: str, data: dict[str, object], wall: str, mono: float) -> None:
        """Write one entry; it is on disk when this returns.

        Where the wall clock was set since the entry before, an entry "clock" that says so comes
        first: {"before": what it showed last, "seconds": how far it was set}.

        Raises:
            JournalUnwritable: the disk refuses.
        """
        self._mind_the_clock(wall, mono)
        self.journal.append(kind, data, wall, mono)
        self._times = Times(wall, mono)

    def retry(self) -> None:
        """See whether the disk takes entries again, and sound where it refused some.

        Raises:
            JournalUnwritable: it doesn't.
        """
        self.journal.retry()
        if self._unsaved:
            try_clip(self.journal.folder, self._unsaved, disk=self.journal.disk)
            self._unsaved = b""

    def seal(self, wall: str, mono: float) -> str:
        """Close the record for good."""
        self._mind_the_clock(wall, mono)
        return seal(self.journal, wall, mono, self._key)

    def _mind_the_clock(self, wall: str, mono: float) -> None:
        """Tell of a wall clock that was set; the entries after it stand in order all the same."""
        step = step_between(self._times, wall, mono) if self._times is not None else None
        if step is None or self._times is None or self.journal.sealed:
            return
        data = {"before": self._times.wall, "seconds": round(step, 3)}
        self.journal.append(CLOCK, data, wall, mono)
        self._times = Times(wall, mono)


def header_in(job: str, entries: Sequence[Entry]) -> Header:
    """The header of a job that was begun.

    Raises:
        RecordDamaged: the first entry is not a header.
    """
    if not entries or entries[0].kind != HEADER:
        msg = f"job {job}: the record has no header: the job was never begun. Start another one"
        raise RecordDamaged(msg)
    first = dict(entries[0].data)
    data: dict[str, Any] = {name: first[name] for name in Header.__slots__ if name in first}
    try:
        for name in ("apprentices", "wrenches"):
            data[name] = tuple(data.get(name, ()))
        return Header(**data)
    except TypeError as error:
        msg = f"job {job}: the header is not one this program knows: {error}"
        raise RecordDamaged(msg) from error


def events_in(job: str, entries: Iterable[Entry]) -> list[Event]:
    """The job's events, for replay.

    Raises:
        RecordDamaged: an entry is not an event this program knows.
    """
    events: list[Event] = []
    for entry in entries:
        if entry.kind not in KINDS:
            continue
        try:
            events.append(from_data(entry.kind, dict(entry.data), entry.wall, entry.mono))
        except ValueError as error:
            msg = f"job {job}: entry {entry.n}: {error}"
            raise RecordDamaged(msg, entry.n) from error
    return events


def copies_folder(journal_folder: Path) -> Path:
    """Where the record keeps its copies of the checklist's files."""
    return journal_folder / "checklist"
