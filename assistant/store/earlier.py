"""What earlier jobs on a machine left open or makeshift, for the job that begins on it now."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from sqlalchemy import Engine, select
from sqlalchemy.exc import SQLAlchemyError

from assistant import packaged
from assistant.accounts import account_of
from assistant.errors import BadInput, GlovesOnError
from assistant.job.events import Earlier
from assistant.store.index import open_index, refresh
from assistant.store.tables import JOB

_MOST_INDEXED: Final = 5
_MOST_READ: Final = 5
"""Earlier jobs on the machine that are read, the latest; each takes a third of a second."""
_SETTLED: Final = frozenset({"not-fitted", "not-needed", "done-before"})
"""Reasons for leaving a step out that leave nothing to do; after all others something is open."""
_APART: Final = re.compile(r"[\W_]+")


def same_machine(one: str, other: str) -> bool:
    """Whether two names are of one machine: spaces, signs and capitals don't count."""
    return bool(_plain(one)) and _plain(one) == _plain(other)


def left_open(jobs: Path, index: Path, vehicle: str, wall: str) -> tuple[Earlier, ...]:
    """What the latest jobs on this machine left open, the latest job first.

    A step that was left out, or a reading out of limits, is settled by a later job on the machine
    that did it, or had it within limits.

    Args:
        jobs: folder of all jobs.
        index: file of the index; the latest few new jobs are read into it.
        vehicle: of the job that begins; nothing is looked for without one.
        wall: when it begins, RFC 3339.

    Raises:
        BadInput: the index can't be used now, for example because another bay writes it.
    """
    if not _plain(vehicle) or not jobs.is_dir():
        return ()
    engine = open_index(index)
    try:
        refresh(engine, jobs, _MOST_INDEXED)
        names = _same(engine, vehicle)[:_MOST_READ]
    except SQLAlchemyError as error:
        msg = f"the index {index} can't be used now: {type(error).__name__}"
        raise BadInput(msg) from error
    finally:
        engine.dispose()
    found: list[Earlier] = []
    settled: set[tuple[str, ...]] = set()
    for name in names:
        try:
            account = account_of(jobs / name)
        except GlovesOnError:
            continue  # `gloveson jobs` tells of a damaged record
        days = max(0, (_moment(wall) - _moment(account["began"])).days)
        for key, kind, what, more in _open_things(account):
            if key not in settled:
                found.append(Earlier(name, account["began"], days, kind, what, more))
        settled |= _settled_by(account)
    return tuple(found)


def _same(engine: Engine, vehicle: str) -> list[str]:
    """Ids of the jobs on this machine, the latest first."""
    asked = select(JOB.c.id, JOB.c.vehicle).order_by(JOB.c.began.desc(), JOB.c.id.desc())
    with engine.connect() as connection:
        rows = connection.execute(asked.where(JOB.c.vehicle.is_not(None))).all()
    return [row.id for row in rows if same_machine(row.vehicle, vehicle)]


Found = tuple[tuple[str, ...], str, str, str]


def _open_things(account: Mapping[str, Any]) -> Iterator[Found]:
    """(what would settle it, kind, what, more) of everything that a job left open."""
    plan = {planned["step"]: planned["do"] for planned in account["plan"]}
    yield from _troubles(account, plan)
    last = {(reading["step"], reading["name"]): reading for reading in account["readings"]}
    for reading in last.values():
        if not reading["within"]:
            what = f"{reading['name']}, {reading['value']}"
            yield ("reading", reading["name"]), "reading", what, reading["limits"]
    for off in account["off"]:
        yield ("off",), "off", off["item"], str(off["count"])
    reasons = packaged.phrasebook(_language(account)).slots["reason"]
    for left in account["left_out"]:
        if left["reason"] not in _SETTLED:
            key = ("step", account["checklist"]["id"], left["step"])
            more = reasons.get(left["reason"], (left["reason"],))[0]
            yield key, "left-out", plan.get(left["step"], left["step"]), more


def _troubles(account: Mapping[str, Any], plan: Mapping[str, str]) -> Iterator[Found]:
    """Troubles not put right, and whatever somebody wrote holds for a while only."""
    language = _language(account)
    kinds, makeshift = packaged.phrasebook(language).slots["trouble"], packaged.makeshift(language)
    for trouble in account["troubles"]:
        what = kinds.get(trouble["kind"], (trouble["kind"],))[0]
        what = f"{what}, {trouble['item']}" if trouble["item"] else what
        if not trouble["cleared"]:
            yield ("trouble",), "trouble", what, trouble["text"]
        elif makeshift(trouble["text"]):
            yield ("makeshift",), "makeshift", what, trouble["text"]
    for note in account["notes"]:
        if makeshift(note["text"]):
            what = plan.get(note["step"], note["step"])
            yield ("makeshift",), "makeshift", what, note["text"]


def _language(account: Mapping[str, Any]) -> str:
    return str(account.get("language", "en"))


def _settled_by(account: Mapping[str, Any]) -> set[tuple[str, ...]]:
    """What of earlier jobs needs no more telling after this one."""
    checklist = account["checklist"]["id"]
    done = {("step", checklist, step["step"]) for step in account["steps"]}
    return done | {("reading", one["name"]) for one in account["readings"] if one["within"]}


def _plain(vehicle: str) -> str:
    return _APART.sub("", vehicle).casefold()


def _moment(wall: str) -> datetime:
    return datetime.fromisoformat(wall)
