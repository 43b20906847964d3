"""The append-only journal of one job: an entry is on the disk before anyone hears of it."""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from itertools import islice
from pathlib import Path
from types import TracebackType
from typing import Self, TypeAlias

from filelock import FileLock

from assistant.errors import BadInput, JournalUnwritable, RecordDamaged, RecordSealed
from assistant.record.chain import REPAIRED, SEALED, Chain, TornLine, place
from assistant.record.clips import unnamed_clips
from assistant.record.cover import Cover, covers_of
from assistant.record.durable import Disk
from assistant.record.entry import JSON, Entry, NotAnEntry, genesis, make_entry, wall_text
from assistant.record.folder import JOURNAL, is_job_id, make_folder
from assistant.record.lock import lock_job

Clock: TypeAlias = Callable[[], tuple[str, float]]
Reader: TypeAlias = Callable[[Entry], object]
_BLOCK = 1 << 18


def now() -> tuple[str, float]:
    """The machine's wall clock as RFC 3339 text and its monotonic clock in seconds."""
    return wall_text(datetime.now(UTC)), time.monotonic()


class Journal:
    """The open journal of a job, held by one process; made by `create` or `open` only.

    One thread calls it. Every call that writes blocks until the disk has the bytes. After a
    failed write nothing more is accepted until `retry` has looked at what the disk really holds.

    Memory does not grow with the entries, only with the clips and files that they cover.

    Attributes:
        last: the newest entry.
        disk: what the record is written through.
        covers: what the entries cover, in their order: (number of the entry, file with its hash).
    """

    def __init__(self, folder: Path, lock: FileLock, disk: Disk) -> None:
        self.folder = folder
        self.job = folder.name
        self._lock = lock
        self.disk = disk
        self.last: Entry | None = None
        self.covers: list[tuple[int, Cover]] = []
        self._count = 0
        self._fd: int | None = None
        self._size = 0
        self._digest = hashlib.sha256()  # over the acknowledged bytes, for `retry`
        self._pending: bytes | None = None  # a line whose fate on the disk is unknown

    @classmethod
    def create(cls, folder: Path, *, disk: Disk | None = None) -> Self:
        """Begin the journal of a new job in a folder that isn't there yet (or is empty).

        Raises:
            BadInput: the folder's name can't be a job id, or there is something in it.
            JobInUse: another process is making the same job.
            JournalUnwritable: the system refuses.
        """
        folder, disk = _job_folder(folder), disk or Disk()
        journal = cls(folder, lock_job(folder), disk)
        try:
            make_folder(folder, disk)
            journal._fd = disk.open_new(folder / JOURNAL)
            disk.sync(journal._fd)
            disk.sync_folder(folder)
        except OSError as error:
            journal.close()
            raise JournalUnwritable(f"job {folder.name} can't be begun: {error}") from error
        except BaseException:
            journal.close()
            raise
        return journal

    @classmethod
    def open(
        cls,
        folder: Path,
        *,
        clock: Clock = now,
        disk: Disk | None = None,
        reader: Reader | None = None,
    ) -> Self:
        """Open the journal of a job to read it and go on with it.

        Each entry on the disk goes to the reader as it verifies, before anything is repaired;
        what the reader raises ends the opening.

        A torn last line, which nobody was ever told about, is cut off; clips that were saved but
        not yet named by an entry are taken in. Either is told in an entry "repaired" with data
        {"job", "dropped": {"bytes", "sha256"} or null, "unnamed": [{"clip": {...}}]}.

        Raises:
            BadInput: there is no such job.
            JobInUse: another process holds it.
            RecordDamaged: an entry is wrong in any other way; names it. Nothing was written.
            JournalUnwritable: the system refuses.
        """
        folder, disk = _job_folder(folder), disk or Disk()
        if not (folder / JOURNAL).is_file():
            raise BadInput(f"there is no job in {folder}: it has no {JOURNAL}")
        journal = cls(folder, lock_job(folder), disk)
        try:
            torn = journal._read(reader)
            if not journal.sealed:
                journal._fd = disk.open_append(folder / JOURNAL)
                journal._repair(torn, clock)
        except OSError as error:
            journal.close()
            raise JournalUnwritable(f"job {folder.name} can't be opened: {error}") from error
        except BaseException:
            journal.close()
            raise
        return journal

    @property
    def entries(self) -> tuple[Entry, ...]:
        """All entries so far, oldest first, read from the disk again: for short journals."""
        with (self.folder / JOURNAL).open("rb") as file:
            return tuple(islice(Chain(file, self.job), self._count))

    @property
    def sealed(self) -> bool:
        """Whether the record is closed."""
        return self.last is not None and self.last.kind == SEALED

    def __len__(self) -> int:
        return self._count

    def append(self, kind: str, data: Mapping[str, object], wall: str, mono: float) -> Entry:
        """Write an entry; when this returns, the disk has it.

        Args:
            kind: what the entry is about; "sealed" is for `seal` and "repaired" for `open`.
            data: the facts as JSON; a clip or file is covered by the shapes told in cover.py.
            wall: RFC 3339 in UTC with milliseconds; written as it is, even if it steps back.
            mono: seconds of the monotonic clock.

        Returns:
            The entry as it will be read back (5.0 has become 5, a tuple a list).

        Raises:
            BadInput: the data can't be an entry; nothing was written and the journal goes on.
            RecordSealed: the record is closed.
            JournalUnwritable: the entry is not known to be on the disk. Not acknowledged:
                call `retry`, then append again.
        """
        if self.sealed:
            raise RecordSealed(f"job {self.job} is sealed; nothing can be added to its record")
        if self._fd is None:
            raise JournalUnwritable(f"job {self.job}: the journal is closed")
        if self._pending is not None:
            raise JournalUnwritable(f"job {self.job}: the last write failed; try again first")
        previous = self.last.hash if self.last else genesis(self.job)
        try:
            entry = make_entry(self._count, kind, data, wall=wall, mono=mono, prev=previous)
            covers = covers_of(entry.data)
        except NotAnEntry as error:
            raise BadInput(f"job {self.job}: {kind!r} can't be an entry: {error}") from error
        self._write(self._fd, entry.line())
        self._taken(entry, covers)
        return entry

    def retry(self) -> None:
        """After a failed write, bring the file back to exactly what was acknowledged.

        Reads the file again from the front, cuts off the piece of the line that failed, makes
        that durable, and sees whether there is room for that line now: a full disk cuts off
        gladly. Does nothing when no write has failed.

        Raises:
            JournalUnwritable: the disk still refuses; call again later.
            RecordDamaged: acknowledged entries are no longer there as written, or somebody else
                wrote to the file.
        """
        if self._pending is None or self._fd is None:
            return
        path = self.folder / JOURNAL
        try:
            fd = self.disk.open_append(path)
            try:
                self._match(path, self._pending)
                self._cut(fd)
                # Without its end it is no entry, even if the machine stops here.
                self.disk.write(fd, self._pending[:-1])
                self.disk.sync(fd)
                self._cut(fd)
                self.disk.sync_folder(self.folder)
            except BaseException:
                os.close(fd)
                raise
        except OSError as error:
            raise JournalUnwritable(f"job {self.job} still can't be written: {error}") from error
        os.close(self._fd)
        self._fd, self._pending = fd, None

    def in_place(self) -> bool:
        """Whether the open file still stands where the job's journal belongs, with its entries."""
        try:
            here = (self.folder / JOURNAL).stat(follow_symlinks=False)
            same = self._fd is not None and os.path.samestat(here, os.fstat(self._fd))
        except OSError:
            return False
        return same and here.st_size >= self._size

    def close(self) -> None:
        """Let go of the job; safe to call twice."""
        fd, self._fd = self._fd, None
        if fd is not None:
            os.close(fd)
        self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _cut(self, fd: int) -> None:
        """Leave only what was acknowledged."""
        self.disk.truncate(fd, self._size)
        self.disk.sync(fd)

    def _write(self, fd: int, line: bytes) -> None:
        self._pending = line  # set first: whatever interrupts, the tail is unknown until verified
        try:
            self._check_place(fd)
            self.disk.write(fd, line)
            self.disk.sync(fd)
        except OSError as error:
            raise JournalUnwritable(f"job {self.job}: the entry is not saved: {error}") from error
        self._pending = None
        self._size += len(line)
        self._digest.update(line)

    def _check_place(self, fd: int) -> None:
        """Refuse when the folder was taken away or something else wrote to the file."""
        path = self.folder / JOURNAL
        here = path.stat(follow_symlinks=False)
        if not os.path.samestat(here, os.fstat(fd)):
            raise OSError(f"{path} is not the file that was opened: it was moved or replaced")
        if here.st_size != self._size:
            raise OSError(f"{path} has {here.st_size} bytes where {self._size} were written")

    def _match(self, path: Path, pending: bytes) -> None:
        """Check that the file is the acknowledged bytes and then at most a piece of `pending`."""
        digest, left = hashlib.sha256(), self._size
        with path.open("rb") as file:
            while left and (block := file.read(min(left, _BLOCK))):
                digest.update(block)
                left -= len(block)
            tail = file.read(len(pending) + 1)
        if left or digest.digest() != self._digest.digest():
            raise RecordDamaged(f"job {self.job}: saved entries are no longer in {path}")
        if not pending.startswith(tail):
            raise RecordDamaged(f"job {self.job}: something else wrote to {path}", self._count)

    def _taken(self, entry: Entry, covers: Iterable[Cover]) -> None:
        self.last = entry
        self._count += 1
        self.covers.extend((entry.n, cover) for cover in covers)

    def _read(self, reader: Reader | None) -> TornLine | None:
        with (self.folder / JOURNAL).open("rb") as file:
            chain = Chain(file, self.job)
            torn = None
            try:
                for entry in chain:
                    self._taken(entry, _covers(entry))
                    if reader is not None:
                        reader(entry)
            except TornLine as error:
                if chain.sealed:
                    raise
                torn = error
        self._size, self._digest = chain.size, chain.digest
        return torn

    def _repair(self, torn: TornLine | None, clock: Clock) -> None:
        if torn is not None and self._fd is not None:
            self.disk.truncate(self._fd, torn.start)
            self.disk.sync(self._fd)
        named = {cover.file for _, cover in self.covers}
        unnamed = [{"clip": clip.data()} for clip in unnamed_clips(self.folder, named)]
        if torn is None and not unnamed:
            return
        dropped = {"bytes": torn.dropped, "sha256": torn.sha256} if torn else None
        wall, mono = clock()
        self.append(REPAIRED, {"job": self.job, "dropped": dropped, "unnamed": unnamed}, wall, mono)


def _covers(entry: Entry) -> tuple[Cover, ...]:
    try:
        return covers_of(entry.data)
    except NotAnEntry as error:
        raise RecordDamaged(f"{place(entry.n)} is wrong: {error}", entry.n) from error


def _job_folder(folder: Path) -> Path:
    folder = folder.absolute()
    if not is_job_id(folder.name):
        raise BadInput(f"{folder.name!r} can't be the id of a job: use small letters and digits")
    return folder


__all__ = ["JSON", "Clock", "Journal", "now"]
