"""Verifying a record with nothing but its folder: what is wrong, exactly, in plain words."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

from assistant.errors import BadInput, RecordDamaged
from assistant.record.chain import REPAIRED, SEALED, Chain, place
from assistant.record.clocks import CLOCK
from assistant.record.cover import (
    CLIP_FILE,
    Cover,
    Tree,
    covers_of,
    digest_of_covers,
    fault,
    look,
    open_plain,
    stray,
)
from assistant.record.entry import Entry, NotAnEntry
from assistant.record.folder import JOURNAL
from assistant.record.retention import RETENTION, Notes, Removal, read_notes
from assistant.record.signing import seal_message, signer

_NOT_VERIFIED: Final = "the record does not verify"
_UNREADABLE: Final = "the record can't be read"


@dataclass(frozen=True, slots=True)
class Audit:
    """What an audit found.

    Attributes:
        ok: whether everything verifies. A record that isn't sealed yet can be ok.
        entries: entries that verified, up to the first wrong one.
        first_bad: 0-based number of the first wrong entry, or of the entry that names the wrong
            clip or file; None when no entry is concerned.
        problem: what is wrong in plain words, None when ok.
        seal: hash of the closing entry; None when the record is open or not ok.
        signed: whether the seal carries a shop's signature, and that verifies.
        key: the public key that signed it, None when it isn't signed or not ok.
        job: id of the job that the record belongs to, as its first entry proves; None if unread.
        clock_set: how often the entries tell that the wall clock was set.
        repaired: how often the entries tell of what a crash left: a torn line that was cut off, or
            clips that were taken in.
        unnamed: clips of an open job that no entry names yet; going on with the job takes them in.
        removed: clips that are gone by a rule, each explained by a note; in order of their names.
    """

    ok: bool
    entries: int
    first_bad: int | None
    problem: str | None
    seal: str | None
    signed: bool
    job: str | None = None
    key: str | None = None
    removed: tuple[Removal, ...] = ()
    clock_set: int = 0
    repaired: int = 0
    unnamed: tuple[str, ...] = ()


class Verified:
    """The entries of a record that is read while it is verified, one in memory at a time.

    Each is yielded when it and the files that it covers verify; what is wrong after it, the seal
    too, is told when the iteration comes to it. So what was made of the entries counts only once
    the iteration has ended.

    Attributes:
        checked: the audit, after the last entry.
    """

    checked: Audit

    def __init__(self, folder: Path) -> None:
        self._folder = folder

    def __iter__(self) -> Iterator[Entry]:
        """Read it.

        Raises:
            RecordDamaged: the record doesn't verify.
            BadInput: there is no such folder.
        """
        auditor = _auditor(self._folder, None)
        try:
            yield from auditor.entries()
        except RecordDamaged as error:
            raise RecordDamaged(f"{_NOT_VERIFIED}: {error}", error.entry) from error
        except OSError as error:
            raise RecordDamaged(f"{_NOT_VERIFIED}: {_UNREADABLE}: {error}") from error
        self.checked = auditor.result(None, None)


def verified(folder: Path) -> Audit:
    """The audit of a record that is going to be read.

    Raises:
        RecordDamaged: it doesn't verify.
    """
    reading = Verified(folder)
    deque(reading, maxlen=0)
    return reading.checked


def audit(folder: Path, job: str | None = None) -> Audit:
    """Verify a record folder or a copy of one; changes nothing and takes no lock.

    Memory does not grow with the number of entries, only with that of clips and files.

    Args:
        folder: the record.
        job: the id that the record must belong to. When None, the folder's name or, if the copy
            was given another name, the id that the first entry names and proves.

    Raises:
        BadInput: there is no such folder.
    """
    auditor = _auditor(folder, job)
    try:
        deque(auditor.entries(), maxlen=0)
    except RecordDamaged as error:
        return auditor.result(str(error), error.entry)
    except OSError as error:
        return auditor.result(f"{_UNREADABLE}: {error}", None)
    return auditor.result(None, None)


def _auditor(folder: Path, job: str | None) -> _Auditor:
    if not folder.is_dir():
        raise BadInput(f"there is no record folder {str(folder)!r}")
    return _Auditor(folder.absolute(), job)


class _Auditor:
    """One pass over one record; raises RecordDamaged at the first thing that is wrong."""

    def __init__(self, folder: Path, job: str | None) -> None:
        self._folder = folder
        self._job = job
        self._tree = Tree(frozenset(), frozenset(), {})
        self._covered: dict[str, str] = {}
        self._chain: Chain | None = None
        self._key: str | None = None
        self._notes = Notes()
        self._gone: list[str] = []
        self._clock_set = 0
        self._repaired = 0
        self._unnamed: list[str] = []

    def entries(self) -> Iterator[Entry]:
        self._tree = look(self._folder)
        self._notes = read_notes(self._folder, self._tree)
        with self._journal() as file:
            self._chain = Chain(file, self._job or self._folder.name, moved=self._job is None)
            for entry in self._chain:
                self._files(entry)
                self._clock_set += entry.kind == CLOCK
                self._repaired += entry.kind == REPAIRED
                if entry.kind == SEALED:
                    self._seal(entry)
                yield entry
        if self._chain.count == 0:
            raise RecordDamaged(f"{JOURNAL} holds no entries")
        last = self._chain.last if self._chain.sealed else None
        self._notes.verify(self._chain.job or "", last, self._key, self._covered)
        known = [*self._covered, *([RETENTION] if self._notes.entries else [])]
        if last is None:  # an open job's newest clip is saved before the entry that will name it
            clips = filter(CLIP_FILE.fullmatch, self._tree.files)
            self._unnamed = sorted(clip for clip in clips if clip not in self._covered)
            known += self._unnamed
        problem = stray(self._tree, known)
        if problem is not None:
            raise RecordDamaged(problem)

    def result(self, problem: str | None, first_bad: int | None) -> Audit:
        chain = self._chain
        last = chain.last if chain is not None else None
        count = chain.count if chain is not None else 0
        sealed = problem is None and last is not None and last.kind == SEALED
        return Audit(
            ok=problem is None,
            entries=count if first_bad is None else min(count, first_bad),
            first_bad=first_bad,
            problem=problem,
            seal=last.hash if sealed and last is not None else None,
            signed=sealed and self._key is not None,
            job=chain.job if chain is not None else None,
            key=self._key if sealed else None,
            clock_set=self._clock_set,
            repaired=self._repaired,
            unnamed=tuple(self._unnamed) if problem is None else (),
            removed=tuple(self._notes.removed[file] for file in sorted(self._gone))
            if sealed
            else (),
        )

    def _journal(self) -> BinaryIO:
        if JOURNAL in self._tree.odd:
            raise RecordDamaged(f"{JOURNAL} is {self._tree.odd[JOURNAL]}")
        if JOURNAL in self._tree.folders:
            raise RecordDamaged(f"{JOURNAL} is a folder")
        try:
            return open_plain(self._folder / JOURNAL)
        except FileNotFoundError as error:
            raise RecordDamaged(f"{JOURNAL} is missing") from error

    def _files(self, entry: Entry) -> None:
        try:
            covers = covers_of(entry.data)
        except NotAnEntry as error:
            raise RecordDamaged(f"{place(entry.n)} is wrong: {error}", entry.n) from error
        for cover in covers:
            known = self._covered.get(cover.file)
            if known is None:
                self._covered[cover.file] = cover.sha256
                problem = self._fault(cover)
            elif known != cover.sha256:
                problem = f"{cover.file} has another hash here than in an earlier entry"
            else:
                problem = None
            if problem is not None:
                raise RecordDamaged(f"{place(entry.n)}: {problem}", entry.n)

    def _fault(self, cover: Cover) -> str | None:
        lies_there = cover.file in self._tree.files or cover.file in self._tree.odd
        if not lies_there and self._notes.explains(cover.file, cover.sha256):
            self._gone.append(cover.file)
            return None
        return fault(self._folder, self._tree, cover)

    def _seal(self, entry: Entry) -> None:
        files = {
            "count": len(self._covered),
            "sha256": digest_of_covers(self._covered.items()),
        }
        if entry.data.get("entries") != entry.n or entry.data.get("files") != files:
            raise RecordDamaged(
                f"{place(entry.n)}: the seal does not fit the entries and files before it", entry.n
            )
        job = self._chain.job if self._chain is not None else None
        message = seal_message(job or "", entry.prev, entry.n, entry.data["files"])
        try:
            self._key = signer(entry.data, message)
        except ValueError as error:
            raise RecordDamaged(f"{place(entry.n)}: {error}", entry.n) from error
