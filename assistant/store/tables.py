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
    Index,
    Integer,
    MetaData,
    Table,
    Text,
)

LAYOUT: Final = 5
"""Raised with every change of the tables; an index of another layout is built anew."""

METADATA: Final = MetaData()
_TIME: Final = Text().with_variant(Text(collation="C"), "postgresql")
"""RFC 3339 in UTC: its order as plain characters is the order in time, in no language's order."""


def _of_job(*columns: Column[object], name: str, found_by: tuple[tuple[str, ...], ...]) -> Table:
    """A table of facts of a job, which go with it.

    What is rare is found by an index that begins with it and ends with the job; what most jobs
    have, by asking the latest jobs one after the other, in an index that begins with the job.
    Both hold all that a search asks: with the job alone in it, a database reads all 59 steps of
    a job to find one.
    """
    job = Column("job", Text, ForeignKey("job.id", ondelete="CASCADE"))
    rare = [Index("_".join(("ix", name, *one)), *one, "job") for one in found_by]
    common = Index(f"ix_{name}_job", "job", *found_by[0])
    row = Column("row", Integer, primary_key=True)
    return Table(name, METADATA, row, job, *columns, common, *rare)


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
PERSON: Final = _of_job(
    Column("person", Text), Column("name", Text), name="person", found_by=(("person",),)
)
STEP: Final = _of_job(
    Column("number", Integer),
    Column("step", Text),
    Column("at", _TIME),
    Column("who", Text),
    Column("second", Text),
    Column("seconds", Float),
    name="step",
    found_by=(("step",),),
)
PART: Final = _of_job(
    Column("step", Text),
    Column("name", Text),
    Column("number", Text),
    Column("count", Integer),
    name="part",
    found_by=(("name",), ("number",)),
)
READING: Final = _of_job(
    Column("step", Text),
    Column("name", Text),
    Column("value", Text),
    Column("within", Boolean),
    Column("limits", Text),
    Column("at", _TIME),
    name="reading",
    found_by=(("name", "within"), ("within",)),
)
TROUBLE: Final = _of_job(
    Column("step", Text),
    Column("kind", Text),
    Column("cleared", Boolean),
    Column("text", Text),
    Column("at", _TIME),
    name="trouble",
    found_by=(("kind",),),
)
TORQUE: Final = _of_job(
    Column("step", Text),
    Column("fastener", Text),
    Column("value", Text),
    Column("wrench", Text),
    Column("set_to", Text),
    Column("at", _TIME),
    Column("who", Text),
    name="torque",
    found_by=(("wrench",),),
)
NAME: Final = Table(
    "name",
    METADATA,
    Column("kind", Text, primary_key=True),
    Column("text", Text, primary_key=True),
)
"""Every step, part, part number and reading once: a text is looked for here, among few rows."""
NAMED: Final = {
    "step": (STEP.c.step,),
    "part": (PART.c.name, PART.c.number),
    "reading": (READING.c.name,),
}
"""By kind of name, the columns that hold such names."""
FACTS: Final = {"people": PERSON, "steps": STEP, "parts": PART, "readings": READING,
                "troubles": TROUBLE, "torques": TORQUE}  # fmt: skip
"""Lists of an account, by its key, and the table that each goes into."""
