"""Reading a record without holding it: no lock, nothing repaired."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from assistant.errors import RecordDamaged
from assistant.record.chain import Chain
from assistant.record.entry import Entry
from assistant.record.folder import JOURNAL


def stream_entries(folder: Path, job: str | None = None) -> Iterator[Entry]:
    """The entries of a record, verified as a chain, one in memory at a time.

    Args:
        folder: the record.
        job: id of the job it must belong to; from the folder or its first entry if left out.

    Raises:
        RecordDamaged: an entry does not verify, or the journal can't be read.
    """
    try:
        with (folder / JOURNAL).open("rb") as file:
            yield from Chain(file, job or folder.name, moved=job is None)
    except OSError as error:
        msg = f"the record in {folder} can't be read: {error}"
        raise RecordDamaged(msg) from error


def read_entries(folder: Path, job: str | None = None) -> tuple[Entry, ...]:
    """All entries of a record at once, as `stream_entries` yields them: for short ones."""
    return tuple(stream_entries(folder, job))
