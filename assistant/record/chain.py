"""Reading a journal from the front, one line in memory at a time, and checking every link."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import BinaryIO

from assistant.errors import RecordDamaged
from assistant.record.entry import MAX_LINE, Entry, NotAnEntry, genesis, parse_line

SEALED = "sealed"
REPAIRED = "repaired"


class TornLine(RecordDamaged):
    """The last line has no end: the machine or the program stopped in the middle of a write.

    Attributes:
        start: bytes of whole lines before it.
        dropped: length of the torn piece in bytes.
        sha256: of the torn piece.
    """

    def __init__(self, entry: int, start: int, piece: bytes) -> None:
        self.start = start
        self.dropped = len(piece)
        self.sha256 = hashlib.sha256(piece).hexdigest()
        super().__init__(
            f"{place(entry)} is torn: its line has no end ({len(piece)} bytes are there)", entry
        )


class Chain:
    """The entries of a journal in order, each checked against the one before.

    Iterating raises RecordDamaged at the first entry that is wrong (TornLine for a line without
    an end); everything yielded before it is good.

    Attributes:
        job: id of the job that the first entry is tied to, None before it is read.
        count: entries read so far.
        size: bytes read so far.
        digest: running SHA-256 over these bytes.
        last: the last entry read.
    """

    def __init__(self, file: BinaryIO, job: str, *, moved: bool = False) -> None:
        """Args: the open journal, the expected job id, and whether another id may be read.

        With `moved`, a first entry that names its job as data["job"] is believed where its chain
        begins with that id: a copied folder may have another name.
        """
        self._file = file
        self._expected = job
        self._moved = moved
        self.job: str | None = None
        self.count = 0
        self.size = 0
        self.digest = hashlib.sha256()
        self.last: Entry | None = None

    @property
    def sealed(self) -> bool:
        """Whether the last entry read is the closing one."""
        return self.last is not None and self.last.kind == SEALED

    def __iter__(self) -> Iterator[Entry]:
        while line := self._file.readline(MAX_LINE + 1):
            if not line.endswith(b"\n") and len(line) <= MAX_LINE:
                raise TornLine(self.count, self.size, line)
            entry = self._checked(line)
            self.count += 1
            self.size += len(line)
            self.digest.update(line)
            self.last = entry
            yield entry

    def _checked(self, line: bytes) -> Entry:
        n = self.count
        try:
            entry = parse_line(line)
        except NotAnEntry as error:
            raise RecordDamaged(f"{place(n)} is wrong: {error}", n) from error
        if self.sealed:
            raise RecordDamaged(f"{place(n)} stands after the seal, where nothing may stand", n)
        if entry.n != n:
            raise RecordDamaged(
                f"{place(n)} is out of order: number {entry.n} stands where {n} should be; "
                "lines are missing, repeated or moved",
                n,
            )
        if self.last is None:
            self._begin(entry)
        elif entry.prev != self.last.hash:
            raise RecordDamaged(
                f"{place(n)} does not follow entry {n - 1} as it stands here: "
                "one of the two was exchanged",
                n,
            )
        return entry

    def _begin(self, entry: Entry) -> None:
        named = entry.data.get("job")
        candidates = [self._expected]
        if self._moved and isinstance(named, str):
            candidates.append(named)
        for job in candidates:
            if entry.prev == genesis(job):
                self.job = job
                return
        raise RecordDamaged(
            f"{place(0)} does not begin the record of job {self._expected!r}: "
            "it belongs to another job, or the folder has another name than the job",
            0,
        )


def place(n: int) -> str:
    """How a message names an entry, with the line where an editor finds it."""
    return f"entry {n} (line {n + 1})"
