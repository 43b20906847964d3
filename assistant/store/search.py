"""Finding jobs: by vehicle, person, step, part, trouble, reading out of limits, and date."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from sqlalchemy import ColumnElement, Connection, Engine, Table, and_, false, or_, select

from assistant.store.tables import JOB, NAME, NAMED, PART, PERSON, READING, STEP, TORQUE, TROUBLE

_FEW: Final = 100


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is looked for; everything given must hold. Texts are found anywhere, in any case.

    Attributes:
        part: name or number of a part.
        reading: name of a reading that was taken.
        out_of_limits: some reading was out of limits (the one named, if one is).
        since, until: first and last day on which the job may have begun, ISO 8601.
        checklist: its id, and with a version "id@1.2.0".
        wrench: name of a torque wrench that was used.
        runs: (SHA-256, source) of checklists of which one was run; see `store.versions`.
    """

    vehicle: str | None = None
    person: str | None = None
    step: str | None = None
    part: str | None = None
    trouble: str | None = None
    reading: str | None = None
    out_of_limits: bool = False
    since: str | None = None
    until: str | None = None
    checklist: str | None = None
    status: str | None = None
    wrench: str | None = None
    runs: tuple[tuple[str, str], ...] | None = None


def find(engine: Engine, wanted: Wanted, most: int = 1000) -> list[dict[str, Any]]:
    """The jobs that are wanted, the latest first, as rows of the job table."""
    with engine.connect() as connection:
        chosen = select(JOB).where(*_conditions(connection, wanted))
        ordered = chosen.order_by(JOB.c.began.desc(), JOB.c.id).limit(most)
        found = connection.execute(ordered).mappings()
        hidden = ("size", "changed_ns")
        return [{str(k): v for k, v in row.items() if k not in hidden} for row in found]


def _conditions(connection: Connection, wanted: Wanted) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if wanted.vehicle:
        found.append(JOB.c.vehicle.icontains(wanted.vehicle, autoescape=True))
    if wanted.checklist:
        name, _, version = wanted.checklist.partition("@")
        found.append(JOB.c.checklist == name)
        if version:
            found.append(JOB.c.version == version)
    if wanted.status:
        found.append(JOB.c.status == wanted.status)
    if wanted.since:
        found.append(JOB.c.began >= wanted.since)
    if wanted.until:
        found.append(JOB.c.began < f"{wanted.until}\uffff")  # the whole of that day
    if wanted.runs is not None:
        runs = (and_(JOB.c.sha256 == sha, JOB.c.source == source) for sha, source in wanted.runs)
        found.append(or_(false(), *runs))
    return [*found, *_facts(connection, wanted)]


def _facts(connection: Connection, wanted: Wanted) -> list[ColumnElement[bool]]:
    found: list[ColumnElement[bool]] = []
    if wanted.person:
        found.append(_some(PERSON, _named(PERSON, wanted.person, "person", "name")))
    if wanted.step:
        found.append(_some(STEP, _holds(connection, wanted.step, "step")))
    if wanted.part:
        found.append(_some(PART, _holds(connection, wanted.part, "part")))
    if wanted.trouble:
        found.append(_some(TROUBLE, _named(TROUBLE, wanted.trouble, "kind", "text")))
    if wanted.wrench:
        found.append(_some(TORQUE, _named(TORQUE, wanted.wrench, "wrench")))
    if wanted.reading or wanted.out_of_limits:
        limits = [READING.c.within.is_(False)] if wanted.out_of_limits else []
        named = [_holds(connection, wanted.reading, "reading")] if wanted.reading else []
        found.append(_some(READING, *limits, *named))
    return found


def _holds(connection: Connection, text: str, kind: str) -> ColumnElement[bool]:
    """A column of this kind holds a name in which the text is found.

    Few names are asked for first and written out: so the database knows how many jobs have them,
    and chooses its way by that.
    """
    names = select(NAME.c.text).where(
        NAME.c.kind == kind, NAME.c.text.icontains(text, autoescape=True)
    )
    some = connection.execute(names.limit(_FEW + 1)).scalars().all()
    written = some if len(some) <= _FEW else names
    return or_(*(column.in_(written) for column in NAMED[kind]))


def _named(table: Table, text: str, *columns: str) -> ColumnElement[bool]:
    return or_(*(table.c[name].icontains(text, autoescape=True) for name in columns))


def _some(table: Table, *conditions: ColumnElement[bool]) -> ColumnElement[bool]:
    """A row of the table belongs to the job and meets the conditions."""
    return JOB.c.id.in_(select(table.c.job).where(*conditions))
