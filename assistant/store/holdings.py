"""What a store holds, by bay."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import Engine, Select, Table, distinct, func, select

from assistant.store.journals import ENTRY, FILE, REFUSED


@dataclass(frozen=True, slots=True)
class Held:
    """Figures of a bay.

    Attributes:
        bay: its role.
        jobs, entries, files: how many are stored.
        refused: entries and files that could not follow and are kept apart.
        received: when the last entry came, by the store's clock.
    """

    bay: str
    jobs: int
    entries: int
    files: int
    refused: int
    received: str


def holdings(engine: Engine) -> list[Held]:
    """Figures of every bay that this role may see, by name."""
    wanted = select(
        ENTRY.c.bay,
        func.count(distinct(ENTRY.c.job)).label("jobs"),
        func.count().label("entries"),
        func.max(ENTRY.c.received).label("received"),
    ).group_by(ENTRY.c.bay)
    with engine.connect() as connection:
        entries = {row.bay: row for row in connection.execute(wanted)}
        files, refused = ({
            row.bay: row.rows for row in connection.execute(_count(table))
        } for table in (FILE, REFUSED))  # fmt: skip
    found = []
    for bay in sorted(entries.keys() | refused.keys()):
        row = entries.get(bay)
        jobs, count, received = (row.jobs, row.entries, str(row.received)) if row else (0, 0, "-")
        found.append(Held(bay, jobs, count, files.get(bay, 0), refused.get(bay, 0), received))
    return found


def _count(table: Table) -> Select[tuple[str, int]]:
    return select(table.c.bay, func.count().label("rows")).group_by(table.c.bay)
