"""Forwarding: what a bay has on its own disk goes to the store, as far as it isn't there yet.

Nothing is remembered here: the store itself says how far each job has come, so a run that was
cut off, ended or repeated anywhere goes on rightly. Clocks play no part: the order is that of
the chain.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from sqlalchemy import Engine
from sqlalchemy.exc import DataError, IntegrityError

from assistant.errors import RecordDamaged, StoreRefused
from assistant.record.chain import place
from assistant.record.entry import Entry, NotAnEntry, parse_line
from assistant.record.folder import JOURNAL, is_job_id
from assistant.record.retention import RETENTION
from assistant.store.notes import last_notes, notes_beside, take_notes
from assistant.store.outbox import (
    MOST_ENTRIES,
    Batch,
    Packer,
    last_settled,
    raw_line,
    settled,
    settled_size,
)
from assistant.store.receiving import (
    files_there,
    hashes_of,
    keep_apart,
    last_of_all,
    take,
    take_files,
    troubled,
)

Send = Callable[[Engine, str, Batch], int]
_TRIES: Final = 3
"""Two runs for one bay at once can meet on an entry; the later one looks again."""


@dataclass(frozen=True, slots=True)
class Problem:
    """What could not be forwarded of a job, in plain words."""

    job: str
    reason: str


@dataclass(frozen=True, slots=True)
class Forwarded:
    """What a run did: jobs with new entries, entries that were new, and what is not right.

    Attributes:
        notes: notes of clips removed that were new.
    """

    jobs: int = 0
    entries: int = 0
    problems: tuple[Problem, ...] = ()
    notes: int = 0


def job_folders(jobs: Path) -> Iterator[Path]:
    """Every record in a folder of jobs, by name."""
    if not jobs.is_dir():
        return
    for folder in sorted(jobs.iterdir()):
        if is_job_id(folder.name) and not folder.is_symlink() and (folder / JOURNAL).is_file():
            yield folder


def forward(
    engine: Engine, bay: str, jobs: Path, *, most: int = MOST_ENTRIES, send: Send = take
) -> Forwarded:
    """Bring the store up to date with a folder of jobs.

    Args:
        engine: the store.
        bay: under whose name; on a server, the role that is logged in.
        jobs: the folder.
        most: entries in a batch.
        send: stores a batch; a test's own.

    Raises:
        sqlalchemy.exc.DBAPIError: the store can't be used; run it again later.
    """
    there, again = last_of_all(engine, bay), troubled(engine, bay)
    noted = last_notes(engine, bay)
    to = _Store(engine, bay, most, send)
    done = Forwarded()
    for folder in job_folders(jobs):
        name = folder.name
        run = _Job(to, folder, there.get(name))
        try:
            run.go(look_again=name in again)
            run.send_notes(noted.get(name, -1))
        except OSError as error:
            run.problem(f"the record can't be read: {error}")
        done = replace(
            done,
            jobs=done.jobs + (run.sent > 0),
            entries=done.entries + run.sent,
            problems=done.problems + tuple(run.problems),
            notes=done.notes + run.notes,
        )
    return done


@dataclass(frozen=True, slots=True)
class _Store:
    """Where it goes, and how."""

    engine: Engine
    bay: str
    most: int
    send: Send


class _Job:
    """One run for one job."""

    def __init__(self, to: _Store, folder: Path, there: tuple[int, str] | None) -> None:
        self._engine, self._bay, self._folder = to.engine, to.bay, folder
        self._there, self._most, self._send = there, to.most, to.send
        self.sent = self.notes = 0
        self.problems: list[Problem] = []

    def problem(self, reason: str) -> None:
        self.problems.append(Problem(self._folder.name, reason))

    def go(self, *, look_again: bool) -> None:
        """Send what is new; with `look_again` also files that could not be had before."""
        size = settled_size(self._folder)
        newest = _newest(self._folder, size)
        if self._there is not None and newest is not None and newest.n <= self._there[0]:
            if (newest.n, newest.hash) != self._there:
                self._set_back(newest)
                return
            if not look_again:
                return  # all of it is there
        known = self._there[0] if self._there is not None and not look_again else -1
        new = (entry for entry in settled(self._folder, size) if entry.n > known)
        try:
            for batch in Packer(self._folder).batches(new, self._most):
                if not self._batch(batch):
                    return
        except RecordDamaged as error:
            self._damaged(error)

    def send_notes(self, known: int) -> None:
        """Send the notes of clips removed; the store has them up to this number."""
        path = self._folder / RETENTION
        if self.problems or path.is_symlink() or not path.is_file():
            return
        try:
            notes = notes_beside(self._folder).entries
            if notes and notes[-1].n > known:
                self.notes = take_notes(self._engine, self._bay, self._folder.name, notes)
        except (RecordDamaged, StoreRefused) as error:
            self.problem(str(error))
        except (DataError, IntegrityError) as error:
            self.problem(f"the store refuses its notes: {str(error.orig).splitlines()[0]}")

    def _batch(self, batch: Batch) -> bool:
        """Send a batch; returns whether the next may go."""
        if self._there is not None and batch.entries[-1].n <= self._there[0]:
            self._late_files(batch)
            return True
        for gap in batch.missing:
            self.problem(f"{place(gap.n)}: {gap.reason}")
        for turn in range(_TRIES):
            try:
                self.sent += self._send(self._engine, self._bay, batch)
            except StoreRefused as error:
                self._refused(error)
                return False
            except (DataError, IntegrityError) as error:
                if turn == _TRIES - 1:
                    said = str(error.orig).splitlines()[0]
                    first = batch.entries[0].n
                    self._refused(StoreRefused(f"the store refuses: {said}", first))
                    return False
            else:
                break
        return True

    def _late_files(self, batch: Batch) -> None:
        """Entries that are there already may have files that could not be had then."""
        there = files_there(self._engine, self._bay, batch.job)
        late = [file for file in batch.files if file.name not in there]
        if late:
            take_files(self._engine, self._bay, batch.job, late)
        for gap in batch.missing:
            if gap.name not in there:  # what the store has may have gone here
                self.problem(f"{place(gap.n)}: {gap.reason}")

    def _refused(self, error: StoreRefused) -> None:
        """Keep this disk's version apart, from the first entry that the store has otherwise."""
        self.problem(f"{error}; this disk's version is kept apart in the store")
        there = hashes_of(self._engine, self._bay, self._folder.name)
        size = settled_size(self._folder)
        apart = (
            (entry.n, str(error), entry.line())
            for entry in settled(self._folder, size)
            if there.get(entry.n) != entry.hash
        )
        keep_apart(self._engine, self._bay, self._folder.name, apart)

    def _damaged(self, error: RecordDamaged) -> None:
        self.problem(f"{error}; it is kept apart in the store")
        n = error.entry or 0
        apart = [(n, str(error), raw_line(self._folder, n))]
        keep_apart(self._engine, self._bay, self._folder.name, apart)

    def _set_back(self, newest: Entry) -> None:
        """This disk knows less than the store: an old copy was put back, or a disk exchanged."""
        assert self._there is not None  # noqa: S101 - asked by `go`
        known = hashes_of(self._engine, self._bay, self._folder.name, newest.n).get(newest.n)
        if known == newest.hash:
            have = f"the store has {self._there[0] + 1} entries and this disk {newest.n + 1}"
            self.problem(f"{have}: the record here was set back; fetch it before going on with it")
        else:
            msg = f"{place(newest.n)} is in the store with another hash: a fork of the job"
            self._refused(StoreRefused(msg, newest.n))


def _newest(folder: Path, size: int) -> Entry | None:
    """The last settled entry; None when there is none or it is wrong."""
    try:
        return parse_line(last_settled(folder, size))
    except NotAnEntry:
        return None


__all__ = ["Forwarded", "Problem", "forward", "job_folders"]
