"""What a bay has to forward: the entries of a record that are on its disk for good."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from assistant.errors import JobInUse, JournalUnwritable, RecordDamaged
from assistant.record.chain import Chain, TornLine, place
from assistant.record.cover import Tree, covers_of, look, open_plain
from assistant.record.durable import Disk
from assistant.record.entry import MAX_LINE, Entry, NotAnEntry
from assistant.record.folder import JOURNAL
from assistant.record.lock import lock_job
from assistant.record.retention import Notes, read_notes
from assistant.store.journals import LARGEST_FILE

MOST_ENTRIES: Final = 500
MOST_BYTES: Final = 4 << 20
"""A batch ends after so many entries, or so many bytes of entries and files; our choice."""


@dataclass(frozen=True, slots=True)
class Covered:
    """A file that an entry answers for, with the bytes that fit its hash."""

    name: str
    sha256: str
    content: bytes


@dataclass(frozen=True, slots=True)
class Missing:
    """A file that an entry answers for and that can't be forwarded now; says why."""

    n: int
    name: str
    reason: str


@dataclass(frozen=True, slots=True)
class Batch:
    """Entries of one job in order, with the files that they name; stored whole or not at all."""

    job: str
    entries: tuple[Entry, ...]
    files: tuple[Covered, ...] = ()
    missing: tuple[Missing, ...] = ()


def settled_size(folder: Path) -> int:
    """Bytes of the journal that can't be taken back any more.

    While a job is under way, its last line may be one whose write has failed and which the bay
    cuts off again; it is acknowledged when another follows. Where nobody holds the job, all is
    made durable first: after a power cut the store must not know what the bay doesn't.

    Raises:
        OSError: the journal can't be read.
    """
    path = folder / JOURNAL
    try:
        lock = lock_job(folder)
    except JobInUse:
        return _without_last_line(path)
    except JournalUnwritable:  # a disk that can only be read can't be cut either
        return path.stat().st_size
    try:
        fd = os.open(path, os.O_RDWR)
        try:
            Disk().sync(fd)
            return os.fstat(fd).st_size
        finally:
            os.close(fd)
    except PermissionError:  # nor can such a record
        return path.stat().st_size
    finally:
        lock.release()


def _without_last_line(path: Path) -> int:
    size = path.stat().st_size
    with open_plain(path) as file:
        start = max(0, size - MAX_LINE - 1)
        file.seek(start)
        tail = file.read(size - start)
    return start + tail.rfind(b"\n", 0, len(tail) - 1) + 1


def last_settled(folder: Path, size: int) -> bytes:
    """The last whole line within so many bytes of a journal; empty if there is none."""
    with open_plain(folder / JOURNAL) as file:
        start = max(0, size - 2 * MAX_LINE)
        file.seek(start)
        tail = file.read(size - start)
    end = tail.rfind(b"\n") + 1
    return tail[tail.rfind(b"\n", 0, end - 1) + 1 : end] if end else b""


def settled(folder: Path, size: int) -> Iterator[Entry]:
    """The entries within so many bytes of a journal, each checked; a torn last line is left out.

    Raises:
        RecordDamaged: at the first entry that is wrong; what was yielded before is good.
        OSError: the journal can't be read.
    """
    with open_plain(folder / JOURNAL) as file:
        chain = Chain(file, folder.name)
        entries = iter(chain)
        while chain.size < size:
            try:
                entry = next(entries, None)
            except TornLine:
                return
            if entry is None or chain.size > size:
                return
            yield entry


def raw_line(folder: Path, n: int) -> bytes:
    """Line number n of a journal as it is, at most as long as a line may be."""
    with open_plain(folder / JOURNAL) as file:
        for _ in range(n):
            file.readline()
        return file.readline(MAX_LINE)


class Packer:
    """Puts the entries of a record into batches."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._tree = look(folder)
        self._notes = _notes(folder, self._tree)
        self._done: set[tuple[str, str]] = set()

    def batches(self, entries: Iterator[Entry], most: int = MOST_ENTRIES) -> Iterator[Batch]:
        """Batches of at most so many entries.

        Raises:
            RecordDamaged: as `settled` does; the good entries before it were yielded first.
        """
        held: list[Entry] = []
        files: list[Covered] = []
        missing: list[Missing] = []
        size = 0

        damage: RecordDamaged | None = None
        try:
            for entry in entries:
                new_files, new_missing = self.files_of(entry)
                held.append(entry)
                files += new_files
                missing += new_missing
                size += len(entry.line()) + sum(len(file.content) for file in new_files)
                if len(held) >= most or size >= MOST_BYTES:
                    yield Batch(self._folder.name, tuple(held), tuple(files), tuple(missing))
                    held, files, missing, size = [], [], [], 0
        except RecordDamaged as error:
            damage = error  # what came before it is good, and goes first
        if held:
            yield Batch(self._folder.name, tuple(held), tuple(files), tuple(missing))
        if damage is not None:
            raise damage

    def files_of(self, entry: Entry) -> tuple[list[Covered], list[Missing]]:
        """The files that an entry is the first to name, and those that can't be had."""
        found: list[Covered] = []
        missing: list[Missing] = []
        try:
            covers = covers_of(entry.data)
        except NotAnEntry as error:
            raise RecordDamaged(f"{place(entry.n)} is wrong: {error}", entry.n) from error
        for cover in covers:
            if (cover.file, cover.sha256) in self._done:
                continue
            self._done.add((cover.file, cover.sha256))
            if self._notes.explains(cover.file, cover.sha256):
                continue  # removed by the shop's rule, or about to be
            content = _read(self._folder, self._tree, cover.file)
            if isinstance(content, str):
                missing.append(Missing(entry.n, cover.file, content))
            elif hashlib.sha256(content).hexdigest() != cover.sha256:
                reason = f"{cover.file} was changed: its SHA-256 is not the one on record"
                missing.append(Missing(entry.n, cover.file, reason))
            else:
                found.append(Covered(cover.file, cover.sha256, content))
        return found, missing


def _notes(folder: Path, tree: Tree) -> Notes:
    """What was removed by the shop's rule; damaged notes explain nothing, and the audit tells."""
    try:
        return read_notes(folder, tree)
    except RecordDamaged:
        return Notes()


def _read(folder: Path, tree: Tree, name: str) -> bytes | str:
    """A file's bytes, or in plain words why they can't be had."""
    if name not in tree.files:
        return f"{name} is missing"
    try:
        with open_plain(folder / name) as file:
            content = file.read(LARGEST_FILE + 1)
    except OSError as error:
        return f"{name} can't be read: {error.strerror}"
    return content if len(content) <= LARGEST_FILE else f"{name} is over {LARGEST_FILE} bytes"
