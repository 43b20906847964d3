"""The store's tables: every record's entries and files as they came, and what was refused."""

from __future__ import annotations

from typing import Any, Final

from sqlalchemy import (
    CheckConstraint,
    Column,
    DateTime,
    Integer,
    LargeBinary,
    MetaData,
    String,
    Table,
    Text,
    func,
)

SCHEMA: Final = "gloveson"
"""Where the tables lie on PostgreSQL; SQLite has no schemas."""
VERSION: Final = 2
"""Of the store. Raised with every migration (see setup.py)."""
LARGEST_FILE: Final = 1 << 26
"""Longest clip or copy in bytes; our choice, far above any honest one."""

JOURNALS: Final = MetaData()


def _received() -> Column[object]:
    """The store's own clock, kept beside; nothing is ordered by it."""
    return Column("received", DateTime(timezone=True), server_default=func.now(), nullable=False)


def _chained() -> tuple[Column[Any], ...]:
    """An entry of a chain: where it stands, what it follows, and its exact canonical bytes."""
    return (
        Column("bay", String(63), primary_key=True),
        Column("job", String(64), primary_key=True),
        Column("n", Integer, primary_key=True),
        Column("hash", String(64), nullable=False),
        Column("prev", String(64), nullable=False),
        Column("kind", Text, nullable=False),
        Column("line", LargeBinary, nullable=False),
        _received(),
    )


STORE: Final = Table("store", JOURNALS, Column("version", Integer, primary_key=True))
ENTRY: Final = Table(
    "entry",
    JOURNALS,
    *_chained(),
    CheckConstraint("n >= 0", name="entry_n"),
)
"""An entry a row: `line` is its exact canonical bytes, newline included."""
FILE: Final = Table(
    "file",
    JOURNALS,
    Column("bay", String(63), primary_key=True),
    Column("job", String(64), primary_key=True),
    Column("name", Text, primary_key=True),
    Column("sha256", String(64), primary_key=True),
    Column("content", LargeBinary, nullable=False),
    _received(),
)
"""Clips and copies of the checklist, by the names and hashes under which entries cover them."""
NOTE: Final = Table(
    "note",
    JOURNALS,
    *_chained(),
)
"""Notes of clips removed, which go on after a record's seal; a row as in `entry`."""
REFUSED: Final = Table(
    "refused",
    JOURNALS,
    Column("bay", String(63), primary_key=True),
    Column("job", String(64), primary_key=True),
    Column("n", Integer, primary_key=True),
    Column("sha256", String(64), primary_key=True),
    Column("reason", Text, nullable=False),
    Column("content", LargeBinary, nullable=False),
    _received(),
)
"""What could not follow: the bytes as they came and why, kept apart. `sha256` is of `content`."""
