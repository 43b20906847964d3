"""Reading a record without holding it: no lock, nothing repaired."""

from __future__ import annotations

from pathlib import Path

from assistant.errors import RecordDamaged
from assistant.record.chain import Chain
from assistant.record.entry import Entry
from assistant.record.folder import JOURNAL


def read_entries(folder: Path, job: str | None = None) -> tuple[Entry, ...]:
    """All entries of a record, verified as a chain.

    Args:
        folder: the record.
        job: id of the job it must belong to; from the folder or its first entry if left out.

    Raises:
        RecordDamaged: an entry does not verify, or the journal can't be read.
    """
    try:
        with (folder / JOURNAL).open("rb") as file:
            return tuple(Chain(file, job or folder.name, moved=job is None))
    except OSError as error:
        msg = f"the record in {folder} can't be read: {error}"
        raise RecordDamaged(msg) from error
