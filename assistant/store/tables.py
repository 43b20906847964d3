"""The index's tables: facts of jobs as their accounts tell them. The records stay the truth.

In the store of many bays, a job's id is "bay/job", and `size` and `changed_ns` count its entries
and files there.
"""

from __future__ import annotations

from typing import Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    Float,
    ForeignKey,
    Integer,
    MetaData,
    Table,
    Text,
)

LAYOUT: Final = 4
"""Raised with every change of the tables; an index of another layout is built anew."""

METADATA: Final = MetaData()
_TIME: Final = Text().with_variant(Text(collation="C"), "postgresql")
"""RFC 3339 in UTC: its order as plain characters is the order in time, in no language's order."""


def _of_job(*columns: Column[object], name: str) -> Table:
    """A table of facts of a job, which go with it."""
    job = Column("job", Text, ForeignKey("job.id", ondelete="CASCADE"), index=True)
    return Table(name, METADATA, Column("row", Integer, primary_key=True), job, *columns)


ABOUT: Final = Table("about", METADATA, Column("layout", Integer, primary_key=True))
JOB: Final = Table(
    "job",
    METADATA,
    Column("id", Text, primary_key=True),
    Column("checklist", Text, index=True),
    Column("title", Text),
    Column("version", Text),
    Column("sha256", Text, index=True),
    Column("source", Text),
    Column("vehicle", Text, index=True),
    Column("status", Text, index=True),
    Column("began", _TIME, index=True),
    Column("ended", _TIME),
    Column("seal", Text),
    Column("size", BigInteger),
    Column("changed_ns", BigInteger),
    Column("problem", Text),
)
PERSON: Final = _of_job(Column("person", Text, index=True), Column("name", Text), name="person")
STEP: Final = _of_job(
    Column("number", Integer),
    Column("step", Text, index=True),
    Column("at", _TIME),
    Column("who", Text),
    Column("second", Text),
    Column("seconds", Float),
    name="step",
)
PART: Final = _of_job(
    Column("step", Text),
    Column("name", Text, index=True),
    Column("number", Text, index=True),
    Column("count", Integer),
    name="part",
)
READING: Final = _of_job(
    Column("step", Text),
    Column("name", Text, index=True),
    Column("value", Text),
    Column("within", Boolean, index=True),
    Column("limits", Text),
    Column("at", _TIME),
    name="reading",
)
TROUBLE: Final = _of_job(
    Column("step", Text),
    Column("kind", Text, index=True),
    Column("cleared", Boolean),
    Column("text", Text),
    Column("at", _TIME),
    name="trouble",
)
TORQUE: Final = _of_job(
    Column("step", Text),
    Column("fastener", Text),
    Column("value", Text),
    Column("wrench", Text, index=True),
    Column("set_to", Text),
    Column("at", _TIME),
    Column("who", Text),
    name="torque",
)
NAME: Final = Table(
    "name",
    METADATA,
    Column("kind", Text, primary_key=True),
    Column("text", Text, primary_key=True),
)
"""Every step, part and part number once: a text is looked for here, among few rows."""
NAMED: Final = {
    "step": (STEP.c.step,),
    "part": (PART.c.name, PART.c.number),
}
"""By kind of name, the columns that hold such names."""
FACTS: Final = {"people": PERSON, "steps": STEP, "parts": PART, "readings": READING,
                "troubles": TROUBLE, "torques": TORQUE}  # fmt: skip
"""Lists of an account, by its key, and the table that each goes into."""
