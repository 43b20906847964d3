"""Notes of clips removed: to the store, and there the clips that they name go too."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine, delete, func, insert, select

from assistant.errors import GlovesOnError, StoreRefused
from assistant.record.audit import audit
from assistant.record.chain import SEALED
from assistant.record.cover import CLIP_FILE, Tree, look
from assistant.record.entry import Entry
from assistant.record.folder import is_job_id
from assistant.record.retention import RETENTION, Notes, read_notes
from assistant.store.fetching import fetch
from assistant.store.journals import ENTRY, FILE, NOTE


@dataclass(frozen=True, slots=True)
class Dropped:
    """What became of a job's clips in the store.

    Attributes:
        removed: clips that went now.
        problem: why none did, "" when all was right.
    """

    bay: str
    job: str
    removed: int
    problem: str = ""


def notes_beside(folder: Path, tree: Tree | None = None) -> Notes:
    """The notes of a record on this disk.

    Raises:
        RecordDamaged: a line is no note, or was changed.
        OSError: they can't be read.
    """
    return read_notes(folder, tree or Tree(frozenset({RETENTION}), frozenset(), {}))


def last_notes(engine: Engine, bay: str) -> dict[str, int]:
    """Number of the last note of every job of a bay that has any."""
    wanted = (
        select(NOTE.c.job, func.max(NOTE.c.n).label("n"))
        .where(NOTE.c.bay == bay)
        .group_by(NOTE.c.job)
    )
    with engine.connect() as connection:
        return {row.job: row.n for row in connection.execute(wanted)}


def take_notes(engine: Engine, bay: str, job: str, notes: tuple[Entry, ...]) -> int:
    """Store the notes of a record whose entries are there; returns how many were new.

    Raises:
        StoreRefused: one doesn't follow what the store has; nothing was stored.
        sqlalchemy.exc.DBAPIError: the database can't or won't; nothing was stored.
    """
    with engine.begin() as connection:
        there, last = _there(connection, bay, job)
        fresh = []
        for note in notes:
            if note.n in there:
                if there[note.n] != note.hash:
                    raise StoreRefused(f"note {note.n} is in the store with another hash", note.n)
                continue
            if last != (note.n - 1, note.prev):
                raise StoreRefused(f"note {note.n} does not follow what the store has", note.n)
            last = (note.n, note.hash)
            fresh.append(note)
        rows = [
            {"bay": bay, "job": job, "n": note.n, "hash": note.hash, "prev": note.prev,
             "kind": note.kind, "line": note.line()}
            for note in fresh
        ]  # fmt: skip
        if rows:
            connection.execute(insert(NOTE), rows)
    return len(rows)


def drop_clips(engine: Engine) -> list[Dropped]:
    """Remove from the store every clip that a note names, as the office.

    Each record is put together and audited first: a note that is not signed as its seal is, or
    came too early, removes nothing. Run again it finds nothing to do.

    Raises:
        sqlalchemy.exc.DBAPIError: the store can't be used, or the role may not do this.
    """
    with engine.connect() as connection:
        wanted = select(NOTE.c.bay, NOTE.c.job).distinct().order_by(NOTE.c.bay, NOTE.c.job)
        jobs = [(row.bay, row.job) for row in connection.execute(wanted)]
    return [one for bay, job in jobs if (one := _drop(engine, bay, job)) is not None]


def _drop(engine: Engine, bay: str, job: str) -> Dropped | None:
    try:
        doomed = list(_doomed(engine, bay, job))
    except GlovesOnError as error:
        return Dropped(bay, job, 0, str(error))
    if not doomed:
        return None
    with engine.begin() as connection:
        for name, sha256 in doomed:
            gone = delete(FILE).where(
                FILE.c.bay == bay, FILE.c.job == job, FILE.c.name == name, FILE.c.sha256 == sha256
            )
            connection.execute(gone)
    return Dropped(bay, job, len(doomed))


def _doomed(engine: Engine, bay: str, job: str) -> Iterator[tuple[str, str]]:
    """Clips in the store that a verified note says were removed."""
    of_job = (FILE.c.bay == bay, FILE.c.job == job)
    with engine.connect() as connection:
        stored = connection.execute(select(FILE.c.name, FILE.c.sha256).where(*of_job)).all()
    clips = [(row.name, row.sha256) for row in stored if CLIP_FILE.fullmatch(row.name)]
    if not clips:
        return
    with tempfile.TemporaryDirectory(prefix="gloveson-") as above:
        folder = Path(above) / (job if is_job_id(job) else "none")
        fetch(engine, bay, job, folder)
        checked = audit(folder, job)
        if not checked.ok:
            raise StoreRefused(f"the record does not verify: {checked.problem}", 0)
        notes = read_notes(folder, look(folder))
    yield from (clip for clip in clips if notes.explains(*clip))


def _there(connection: Connection, bay: str, job: str) -> tuple[dict[int, str], tuple[int, str]]:
    """Hashes of the notes in the store by number, and the last thing: a note, or the seal."""
    asked = select(NOTE.c.n, NOTE.c.hash).where(NOTE.c.bay == bay, NOTE.c.job == job)
    there = {row.n: row.hash for row in connection.execute(asked)}
    if there:
        return there, max(there.items())
    seal = select(ENTRY.c.n, ENTRY.c.hash).where(
        ENTRY.c.bay == bay, ENTRY.c.job == job, ENTRY.c.kind == SEALED
    )
    found = connection.execute(seal).first()
    return there, ((found.n, found.hash) if found else (-1, ""))
