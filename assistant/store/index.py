"""Keeps the index in step with the records: only what changed is read again."""

from __future__ import annotations

import os
import stat
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Connection, Engine, Table, create_engine, delete, event, insert, select
from sqlalchemy.exc import DatabaseError

from assistant.accounts import account_of
from assistant.errors import BadInput, GlovesOnError
from assistant.record.folder import JOURNAL, is_job_id
from assistant.store.tables import ABOUT, FACTS, JOB, LAYOUT, METADATA, NAME, NAMED

INDEX_FILE: Final = "index.sqlite"
WAIT_S: Final = 2.0
"""How long another bay that writes the index is waited for, seconds."""
BATCH: Final = 50
"""Jobs put into the index in one transaction: they are read before it begins, and then it takes a
quarter of a second or so, well under what another bay waits."""

Progress = Callable[[int, int], object]
"""Told how many jobs of how many were read."""


@dataclass(frozen=True, slots=True)
class Refreshed:
    """What a refresh did: jobs read (again), jobs that are gone, jobs that don't verify."""

    read: int
    gone: int
    damaged: int


def open_index(path: Path) -> Engine:
    """The index in this file; one that is of another layout, or no index, is built anew.

    Raises:
        BadInput: the file can't be written, or another program writes it now.
    """
    engine = _sqlite(path)
    try:
        with engine.begin() as connection:
            METADATA.create_all(connection)
            if connection.execute(select(ABOUT.c.layout)).scalar() == LAYOUT:
                return engine
    except DatabaseError as error:
        if "locked" in str(error):
            msg = f"another program writes the index {path} now; try again"
            raise BadInput(msg) from error
        # Whatever else it is, it is only an index: the records hold everything.
    engine.dispose()
    try:
        path.unlink(missing_ok=True)
        engine = _sqlite(path)
        with engine.begin() as connection:
            METADATA.create_all(connection)
            connection.execute(insert(ABOUT).values(layout=LAYOUT))
    except (OSError, DatabaseError) as error:
        msg = f"the index {path} can't be written: {error}"
        raise BadInput(msg) from error
    return engine


def _sqlite(path: Path) -> Engine:
    engine = create_engine(f"sqlite:///{path}", connect_args={"timeout": WAIT_S})

    @event.listens_for(engine, "connect")
    def _cascade(connection: Any, _record: object) -> None:  # noqa: ANN401 - the driver's own
        connection.execute("PRAGMA foreign_keys = ON")
        # The index can be made anew from the journals at any time: no job waits for the disk.
        connection.execute("PRAGMA synchronous = OFF")

    return engine


def refresh(
    engine: Engine,
    jobs: Path,
    most: int | None = None,
    progress: Progress = lambda _done, _all: None,
) -> Refreshed:
    """Bring the index up to date with a folder of jobs.

    Args:
        engine: the index.
        jobs: the folder.
        most: read at most so many jobs now, the latest first; all if left out.
        progress: called with the jobs put in so far, and how many there will be.

    A job is read again when the size or the time of its journal has changed. One whose record
    does not verify stays in the index with what is wrong, so that it is found.
    """
    there = _stamps(jobs)
    with engine.begin() as connection:
        known = {
            row.id: (row.size, row.changed_ns)
            for row in connection.execute(select(JOB.c.id, JOB.c.size, JOB.c.changed_ns))
        }
        gone = known.keys() - there.keys()
        if gone:
            connection.execute(delete(JOB).where(JOB.c.id.in_(gone)))
    changed = [name for name in sorted(there, reverse=True) if known.get(name) != there[name]]
    changed = changed[:most]
    read = damaged = 0
    waiting = (_facts_of(name, jobs / name, there[name]) for name in changed)
    while rows := list(islice(waiting, BATCH)):
        with engine.begin() as connection:
            for row in rows:
                _put(connection, row)
        read += len(rows)
        damaged += sum("problem" in row for row in rows)
        progress(read, len(changed))
    return Refreshed(read, len(gone), damaged)


def _stamps(jobs: Path) -> dict[str, tuple[int, int]]:
    """Size and time of every job's journal, by its id; one look at each, for years of jobs."""
    found: dict[str, tuple[int, int]] = {}
    if not jobs.is_dir():
        return found
    with os.scandir(jobs) as items:
        for item in items:
            if not is_job_id(item.name) or not item.is_dir(follow_symlinks=False):
                continue
            with suppress(FileNotFoundError):
                status = (jobs / item.name / JOURNAL).stat()
                if stat.S_ISREG(status.st_mode):
                    found[item.name] = status.st_size, status.st_mtime_ns
    return found


def put_record(connection: Connection, name: str, folder: Path, stamp: tuple[int, int]) -> bool:
    """Put a job's facts in place of what was known; returns whether its record verifies.

    Args:
        connection: inside a transaction.
        name: under which the index has it.
        folder: the record.
        stamp: two numbers that change when the record does.
    """
    facts = _facts_of(name, folder, stamp)
    _put(connection, facts)
    return "problem" not in facts


def put_damaged(connection: Connection, name: str, stamp: tuple[int, int], problem: str) -> None:
    """Put a job into the index of which nothing is known but what is wrong with it."""
    _put(connection, {**_named(name, stamp), "problem": problem})


def _named(name: str, stamp: tuple[int, int]) -> dict[str, Any]:
    return {"id": name, "size": stamp[0], "changed_ns": stamp[1]}


def _facts_of(name: str, folder: Path, stamp: tuple[int, int]) -> dict[str, Any]:
    """A job's account; or, where its record does not verify, the `problem`."""
    try:
        return {**account_of(folder), **_named(name, stamp)}
    except GlovesOnError as error:
        return {**_named(name, stamp), "problem": str(error)}


def _put(connection: Connection, facts: Mapping[str, Any]) -> None:
    """Put a job's facts in place of what was known."""
    connection.execute(delete(JOB).where(JOB.c.id == facts["id"]))
    if "problem" in facts:
        connection.execute(insert(JOB).values(**_row(JOB, facts), status="damaged"))
    else:
        put_account(connection, facts)


def put_account(connection: Connection, account: Mapping[str, Any]) -> None:
    """Put an account's facts into the tables.

    Args:
        connection: inside a transaction.
        account: as `accounts.account_of` makes it, with `id`, `size` and `changed_ns`.
    """
    flat = {**account["checklist"], **account, "checklist": account["checklist"]["id"]}
    connection.execute(insert(JOB).values(**_row(JOB, flat)))
    for key, table in FACTS.items():
        rows = [_row(table, {**fact, "job": account["id"]}) for fact in _facts(account, key)]
        if rows:
            connection.execute(insert(table), rows)
            _put_names(connection, table, rows)


def _put_names(connection: Connection, table: Table, rows: list[dict[str, Any]]) -> None:
    for kind, columns in NAMED.items():
        held = [column.name for column in columns if column.table is table]
        texts = {row[name] for row in rows for name in held if row.get(name)}
        if not texts:
            continue
        known = select(NAME.c.text).where(NAME.c.kind == kind, NAME.c.text.in_(texts))
        new = texts - set(connection.execute(known).scalars())
        if new:
            connection.execute(insert(NAME), [{"kind": kind, "text": text} for text in new])


def _facts(account: Mapping[str, Any], key: str) -> list[dict[str, Any]]:
    if key == "people":
        return [{"person": person["id"], "name": person["name"]} for person in account[key]]
    return list(account[key])


def _row(table: Table, facts: Mapping[str, Any]) -> dict[str, Any]:
    """What of the facts the table has columns for."""
    wanted = [column.name for column in table.columns if column.name != "row"]
    return {name: _kept(facts[name]) for name in wanted if name in facts}


def _kept(value: object) -> object:
    """PostgreSQL keeps no NUL in a text; nobody looks for one."""
    return value.replace("\x00", "") if isinstance(value, str) else value
