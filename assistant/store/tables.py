"""The index's tables: facts of jobs as their accounts tell them. The records stay the truth."""

from __future__ import annotations

from typing import Final

from sqlalchemy import (
    Boolean,
    Column,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    String,
    Table,
    Text,
)

LAYOUT: Final = 2
"""Raised with every change of the tables; an index of another layout is built anew."""

METADATA: Final = MetaData()


def _of_job(*columns: Column[object], name: str) -> Table:
    """A table of facts of a job, which go with it."""
    job = Column("job", String(64), ForeignKey("job.id", ondelete="CASCADE"), index=True)
    return Table(name, METADATA, Column("row", Integer, primary_key=True), job, *columns)


ABOUT: Final = Table("about", METADATA, Column("layout", Integer, primary_key=True))
JOB: Final = Table(
    "job",
    METADATA,
    Column("id", String(64), primary_key=True),
    Column("checklist", String(64), index=True),
    Column("title", Text),
    Column("version", String(20)),
    Column("sha256", String(64), index=True),
    Column("vehicle", Text, index=True),
    Column("status", String(16), index=True),
    Column("began", String(32), index=True),
    Column("ended", String(32)),
    Column("seal", String(64)),
    Column("size", Integer),
    Column("changed_ns", Integer),
    Column("problem", Text),
)
PERSON: Final = _of_job(
    Column("person", String(64), index=True), Column("name", Text), name="person"
)
STEP: Final = _of_job(
    Column("number", Integer),
    Column("step", String(160), index=True),
    Column("at", String(32)),
    Column("who", String(64)),
    Column("second", String(64)),
    Column("seconds", Float),
    name="step",
)
PART: Final = _of_job(
    Column("step", String(160)),
    Column("name", Text, index=True),
    Column("number", String(32), index=True),
    Column("count", Integer),
    name="part",
)
READING: Final = _of_job(
    Column("step", String(160)),
    Column("name", Text, index=True),
    Column("value", Text),
    Column("within", Boolean, index=True),
    Column("limits", Text),
    Column("at", String(32)),
    name="reading",
)
TROUBLE: Final = _of_job(
    Column("step", String(160)),
    Column("kind", String(64), index=True),
    Column("cleared", Boolean),
    Column("text", Text),
    Column("at", String(32)),
    name="trouble",
)
NAME: Final = Table(
    "name",
    METADATA,
    Column("kind", String(16), primary_key=True),
    Column("text", String(200), primary_key=True),
)
"""Every step, part and part number once: a text is looked for here, among few rows."""
NAMED: Final = {
    "step": (STEP.c.step,),
    "part": (PART.c.name, PART.c.number),
}
"""By kind of name, the columns that hold such names."""
FACTS: Final = {"people": PERSON, "steps": STEP, "parts": PART, "readings": READING,
                "troubles": TROUBLE}  # fmt: skip
"""Lists of an account, by its key, and the table that each goes into."""
