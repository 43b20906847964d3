"""The index of all bays' jobs, in the store itself: derived from the journals that are there."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Final

from sqlalchemy import Engine, delete, func, select
from sqlalchemy.exc import DataError, IntegrityError, OperationalError

from assistant.errors import GlovesOnError, StoreUnavailable
from assistant.record.folder import is_job_id
from assistant.store.fetching import fetch
from assistant.store.index import Progress, Refreshed, put_damaged, put_record
from assistant.store.journals import ENTRY, FILE
from assistant.store.tables import ABOUT, JOB, LAYOUT

_TOO_LARGE: Final = "54"  # SQLSTATE class: program limit exceeded, as by a very long name
_BESIDE: Final = "the index in the store is of another program version"


def refresh_store(engine: Engine, progress: Progress = lambda _done, _all: None) -> Refreshed:
    """Bring the store's index up to date with the journals in it.

    Args:
        engine: the store, as the office.
        progress: called with the jobs put in so far, and how many there will be.

    Each job with more entries or files than the index knows is put together in a folder of its
    own, verified, and read as a record on a bay's disk is. It is found as "bay/job".

    Raises:
        StoreUnavailable: the index is of another program version.
        sqlalchemy.exc.DBAPIError: the store can't be used, or the role may not do this.
    """
    with engine.connect() as connection:
        if connection.execute(select(ABOUT.c.layout)).scalar() != LAYOUT:
            raise StoreUnavailable(f"{_BESIDE}; its owner runs: gloveson store --set-up")
        there = {f"{row.bay}/{row.job}": row for row in connection.execute(_STAMPS)}
        known = {
            row.id: (row.size, row.changed_ns)
            for row in connection.execute(select(JOB.c.id, JOB.c.size, JOB.c.changed_ns))
        }
    gone = known.keys() - there.keys()
    if gone:
        with engine.begin() as connection:
            connection.execute(delete(JOB).where(JOB.c.id.in_(gone)))
    read = damaged = 0
    changed = [row for name, row in there.items() if known.get(name) != (row.entries, row.files)]
    for row in changed:
        damaged += not _put(engine, row.bay, row.job, (row.entries, row.files))
        read += 1
        progress(read, len(changed))
    return Refreshed(read, len(gone), damaged)


def forget_index(engine: Engine) -> None:
    """Empty the index; the next refresh builds it from the journals."""
    with engine.begin() as connection:
        connection.execute(delete(JOB))


def _put(engine: Engine, bay: str, job: str, stamp: tuple[int, int]) -> bool:
    """Put a job into the index; returns whether its record verifies."""
    name = f"{bay}/{job}"
    try:
        with tempfile.TemporaryDirectory(prefix="gloveson-") as above:
            folder = Path(above) / (job if is_job_id(job) else "none")
            fetch(engine, bay, job, folder)
            with engine.begin() as connection:
                return put_record(connection, name, folder, stamp)
    except IntegrityError:
        return True  # somebody else's search has put it there meanwhile
    except (DataError, OperationalError) as error:
        if isinstance(error, OperationalError) and _state(error)[:2] != _TOO_LARGE:
            raise
        reason = f"the index can't hold a fact of it: {type(error.orig).__name__}"
    except GlovesOnError as error:
        reason = str(error)  # one bay's trick hides no other's jobs
    with engine.begin() as connection:
        put_damaged(connection, name, stamp, reason)
    return False


def _state(error: OperationalError) -> str:
    return str(getattr(error.orig, "sqlstate", None) or "")


_ENTRIES: Final = (
    select(ENTRY.c.bay, ENTRY.c.job, func.count().label("entries"))
    .group_by(ENTRY.c.bay, ENTRY.c.job)
    .subquery("entries")
)
_FILES: Final = (
    select(FILE.c.bay, FILE.c.job, func.count().label("files"))
    .group_by(FILE.c.bay, FILE.c.job)
    .subquery("files")
)
_STAMPS: Final = select(
    _ENTRIES.c.bay,
    _ENTRIES.c.job,
    _ENTRIES.c.entries,
    func.coalesce(_FILES.c.files, 0).label("files"),
).outerjoin(_FILES, (_ENTRIES.c.bay == _FILES.c.bay) & (_ENTRIES.c.job == _FILES.c.job))
