"""Getting a record back from the store, byte for byte."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Connection, Engine, select

from assistant.errors import BadInput, JournalUnwritable
from assistant.record.cover import may_cover
from assistant.record.durable import Disk, write_new
from assistant.record.folder import JOURNAL, is_job_id, make_folder
from assistant.record.retention import RETENTION
from assistant.store.journals import ENTRY, FILE, NOTE


@dataclass(frozen=True, slots=True)
class Fetched:
    """What was written: entries and files."""

    entries: int
    files: int


def owner_of(engine: Engine, wanted: str) -> tuple[str, str]:
    """Bay and job of a record in the store, by "job" or, where two bays have one, "bay/job".

    Raises:
        BadInput: there is no such record, or several; names them.
    """
    bay, _, job = wanted.rpartition("/")
    if not is_job_id(job):
        raise BadInput(f"{wanted!r} can't be a job in the store: JOB or BAY/JOB")
    asked = select(ENTRY.c.bay).where(ENTRY.c.job == job, ENTRY.c.n == 0).order_by(ENTRY.c.bay)
    with engine.connect() as connection:
        bays = [name for name in connection.execute(asked).scalars() if bay in ("", name)]
    if not bays:
        raise BadInput(f"the store shows no job {wanted} to this role")
    if len(bays) > 1:
        raise BadInput(f"several bays have a job {job}; say which: {bays[0]}/{job}")
    return bays[0], job


def fetch(engine: Engine, bay: str, job: str, folder: Path) -> Fetched:
    """Write a record into a folder that is not there yet, or is empty.

    Verifying what came is left to `record.audit`, which trusts neither the store nor this.

    Raises:
        BadInput: there is something in the folder; or what the store names can't be a record's.
        JournalUnwritable: the system refuses.
        sqlalchemy.exc.DBAPIError: the store can't be used.
    """
    if not is_job_id(job):  # whatever the store says, nothing is written elsewhere
        raise BadInput(f"the store names a job {job!r}, which can't be one")
    try:
        make_folder(folder.absolute(), Disk())
        with engine.connect() as connection:
            files = _files(connection, bay, job, folder)
            entries = _journal(connection, bay, job, folder / JOURNAL)
            _notes(connection, bay, job, folder / RETENTION)
    except OSError as error:
        raise JournalUnwritable(f"{folder} can't be written: {error}") from error
    return Fetched(entries, files)


def _journal(connection: Connection, bay: str, job: str, path: Path) -> int:
    """The lines in order, a thousand in memory at a time."""
    wanted = select(ENTRY.c.line).where(ENTRY.c.bay == bay, ENTRY.c.job == job).order_by(ENTRY.c.n)
    count = 0
    disk = Disk()
    with path.open("xb") as file:
        for line in connection.execution_options(yield_per=1000).execute(wanted).scalars():
            file.write(line)
            count += 1
        file.flush()
        disk.sync(file.fileno())
    disk.sync_folder(path.parent)
    return count


def _notes(connection: Connection, bay: str, job: str, path: Path) -> None:
    """The notes of clips removed, where there are any."""
    wanted = select(NOTE.c.line).where(NOTE.c.bay == bay, NOTE.c.job == job).order_by(NOTE.c.n)
    lines = connection.execute(wanted).scalars().all()
    if lines:
        write_new(path, b"".join(lines))


def _files(connection: Connection, bay: str, job: str, folder: Path) -> int:
    names = select(FILE.c.name, FILE.c.sha256).where(FILE.c.bay == bay, FILE.c.job == job)
    count = 0
    for name, sha256 in connection.execute(names.order_by(FILE.c.name)).all():
        if not may_cover(name):
            raise BadInput(f"the store names a file {name!r}, which can't be part of a record")
        content = connection.execute(
            select(FILE.c.content).where(
                FILE.c.bay == bay, FILE.c.job == job, FILE.c.name == name, FILE.c.sha256 == sha256
            )
        ).scalar_one()
        if hashlib.sha256(content).hexdigest() != sha256:
            raise BadInput(f"{name} in the store does not match its hash")
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        write_new(path, content)
        count += 1
    return count
