"""Taking a batch into the store: checked against what is there, stored whole or not at all.

On PostgreSQL the database makes the same checks once more (data/guards.sql), so that no other
program gets past them either.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Iterable, Sequence
from typing import Any, Final

from sqlalchemy import Connection, Engine, func, insert, select

from assistant.errors import BadInput, StoreRefused
from assistant.record.chain import SEALED, place
from assistant.record.entry import Entry, NotAnEntry, genesis, parse_line
from assistant.store.journals import ENTRY, FILE, REFUSED
from assistant.store.outbox import Batch, Covered

_BAY: Final = re.compile(r"[a-z0-9][a-z0-9_-]{0,62}")


def who_am_i(engine: Engine, given: str) -> str:
    """The bay under whose name rows are kept: the role on a server, the name given in a file.

    Raises:
        BadInput: the name given can't be one.
    """
    if engine.dialect.name != "postgresql":
        if _BAY.fullmatch(given) is None:
            raise BadInput(f"{given!r} can't be a bay: use small letters, digits, hyphens")
        return given
    with engine.connect() as connection:
        return str(connection.execute(select(func.current_user())).scalar_one())


def last_of_all(engine: Engine, bay: str) -> dict[str, tuple[int, str]]:
    """Number and hash of the last entry of every job of a bay."""
    newest = (
        select(ENTRY.c.job, func.max(ENTRY.c.n).label("n"))
        .where(ENTRY.c.bay == bay)
        .group_by(ENTRY.c.job)
        .subquery()
    )
    wanted = select(ENTRY.c.job, ENTRY.c.n, ENTRY.c.hash).join(
        newest,
        (ENTRY.c.bay == bay) & (ENTRY.c.job == newest.c.job) & (ENTRY.c.n == newest.c.n),
    )
    with engine.connect() as connection:
        return {row.job: (row.n, row.hash) for row in connection.execute(wanted)}


def hashes_of(engine: Engine, bay: str, job: str, since: int = 0) -> dict[int, str]:
    """Hashes of a job's entries in the store by number, from one number on."""
    wanted = select(ENTRY.c.n, ENTRY.c.hash).where(
        ENTRY.c.bay == bay, ENTRY.c.job == job, ENTRY.c.n >= since
    )
    with engine.connect() as connection:
        return {row.n: row.hash for row in connection.execute(wanted)}


def files_there(engine: Engine, bay: str, job: str) -> set[str]:
    """Names of a job's files in the store."""
    wanted = select(FILE.c.name).where(FILE.c.bay == bay, FILE.c.job == job)
    with engine.connect() as connection:
        return set(connection.execute(wanted).scalars())


def take(engine: Engine, bay: str, batch: Batch) -> int:
    """Store a batch. What is there already is not stored again, so it may come twice.

    Returns:
        Entries that were new.

    Raises:
        StoreRefused: an entry is wrong in itself, leaves a gap or begins a fork; nothing of the
            batch was stored.
        sqlalchemy.exc.DBAPIError: the database can't or won't; nothing was stored.
    """
    with engine.begin() as connection:
        fresh = _fresh(connection, bay, batch)
        rows = [
            {"bay": bay, "job": batch.job, "n": entry.n, "hash": entry.hash, "prev": entry.prev,
             "kind": entry.kind, "line": entry.line()}
            for entry in fresh
        ]  # fmt: skip
        if rows:
            connection.execute(insert(ENTRY), rows)
        _put_files(connection, bay, batch.job, batch.files)
        _put_refused(
            connection, bay, batch.job, ((gap.n, gap.reason, b"") for gap in batch.missing)
        )
    return len(rows)


def take_files(engine: Engine, bay: str, job: str, files: Sequence[Covered]) -> None:
    """Store files that could not be had when their entries were stored."""
    with engine.begin() as connection:
        _put_files(connection, bay, job, files)


def keep_apart(
    engine: Engine, bay: str, job: str, refused: Iterable[tuple[int, str, bytes]]
) -> None:
    """Keep what was refused, as (number, reason, bytes as they came); again changes nothing."""
    with engine.begin() as connection:
        _put_refused(connection, bay, job, refused)


def troubled(engine: Engine, bay: str) -> set[str]:
    """Jobs of a bay of which something was refused or missing."""
    wanted = select(REFUSED.c.job).where(REFUSED.c.bay == bay).distinct()
    with engine.connect() as connection:
        return set(connection.execute(wanted).scalars())


def _fresh(connection: Connection, bay: str, batch: Batch) -> list[Entry]:
    """The entries that are not there yet, all checked."""
    of_job = (ENTRY.c.bay == bay, ENTRY.c.job == batch.job)
    last = connection.execute(
        select(ENTRY.c.n, ENTRY.c.hash, ENTRY.c.kind)
        .where(*of_job)
        .order_by(ENTRY.c.n.desc())
        .limit(1)
    ).first()
    n, before, kind = (last.n, last.hash, last.kind) if last else (-1, genesis(batch.job), "")
    there = {}
    if batch.entries and batch.entries[0].n <= n:
        some = select(ENTRY.c.n, ENTRY.c.hash).where(*of_job, ENTRY.c.n >= batch.entries[0].n)
        there = {row.n: row.hash for row in connection.execute(some)}
    fresh = []
    for entry in batch.entries:
        _whole(entry)
        if entry.n <= n:
            _same(entry, there)
            continue
        _follows(entry, n, before, kind)
        n, before, kind = entry.n, entry.hash, entry.kind
        fresh.append(entry)
    return fresh


def _whole(entry: Entry) -> None:
    """See that an entry's hash is that of what it says, whoever made it."""
    try:
        if parse_line(entry.line()).hash == entry.hash:
            return
        why = "it was changed: its hash doesn't match what it says"
    except NotAnEntry as error:
        why = str(error)
    raise StoreRefused(f"{place(entry.n)} is wrong: {why}", entry.n)


def _same(entry: Entry, there: dict[int, str]) -> None:
    known = there.get(entry.n)
    if known is not None and known != entry.hash:
        msg = f"{place(entry.n)} is in the store with another hash: a fork of the job"
        raise StoreRefused(msg, entry.n)


def _follows(entry: Entry, n: int, before: str, kind: str) -> None:
    if entry.n != n + 1:
        msg = f"{place(entry.n)} leaves a gap: the store has {n + 1} entries of the job"
        raise StoreRefused(msg, entry.n)
    if kind == SEALED:
        raise StoreRefused(f"{place(entry.n)} comes after the seal", entry.n)
    if entry.prev != before:
        msg = f"{place(entry.n)} does not follow entry {n} in the store: a fork of the job"
        raise StoreRefused(msg, entry.n)


def _put_files(connection: Connection, bay: str, job: str, files: Sequence[Covered]) -> None:
    if not files:
        return
    known = select(FILE.c.name, FILE.c.sha256).where(
        FILE.c.bay == bay, FILE.c.job == job, FILE.c.name.in_([file.name for file in files])
    )
    there = {(row.name, row.sha256) for row in connection.execute(known)}
    rows = [
        {"bay": bay, "job": job, "name": file.name, "sha256": file.sha256, "content": file.content}
        for file in files
        if (file.name, file.sha256) not in there
    ]
    if rows:
        connection.execute(insert(FILE), rows)


def _put_refused(
    connection: Connection, bay: str, job: str, refused: Iterable[tuple[int, str, bytes]]
) -> None:
    rows: dict[tuple[int, str], dict[str, Any]] = {}
    for n, reason, content in refused:
        digest = hashlib.sha256(content).hexdigest()
        row = {"bay": bay, "job": job, "n": n, "sha256": digest}
        kept = {**row, "reason": reason.replace("\x00", ""), "content": content}
        rows.setdefault((n, digest), kept)
    if not rows:
        return
    known = select(REFUSED.c.n, REFUSED.c.sha256).where(REFUSED.c.bay == bay, REFUSED.c.job == job)
    there = {(row.n, row.sha256) for row in connection.execute(known)}
    new = [row for key, row in rows.items() if key not in there]
    if new:
        connection.execute(insert(REFUSED), new)
