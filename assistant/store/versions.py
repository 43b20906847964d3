"""Jobs that were run under a text of their checklist which is no longer the one in its file."""

from __future__ import annotations

from pathlib import Path

from sqlalchemy import Engine, select

from assistant import shelf
from assistant.errors import BadInput
from assistant.store.tables import JOB


def superseded(engine: Engine) -> tuple[tuple[tuple[str, str], ...], frozenset[str]]:
    """The (SHA-256, source) of texts that jobs were run under and that are old now.

    A checklist's file now is the one that the job began with, if it is still there, else the
    checklist of the same id that came with the program. Its SHA-256 covers the shared sections.

    Returns:
        The old texts, and the ids of checklists of which no file can be read now.
    """
    asked = select(JOB.c.checklist, JOB.c.source, JOB.c.sha256).distinct()
    with engine.connect() as connection:
        runs = connection.execute(asked.where(JOB.c.sha256.is_not(None))).all()
    current = {(run.checklist, run.source) for run in runs}
    now = {key: _sha256(*key) for key in current}
    old = [(run.sha256, run.source) for run in runs if _differs(now[tuple(run[:2])], run.sha256)]
    return tuple(sorted(old)), frozenset(name for (name, _), sha in now.items() if sha is None)


def _differs(now: str | None, then: str) -> bool:
    return now is not None and now != then


def _sha256(checklist: str, source: str) -> str | None:
    try:
        there = bool(source) and Path(source).is_file()
        return shelf.load_checklist(source if there else shelf.find_checklist(checklist)).sha256
    except (BadInput, OSError, ValueError):  # a name that no file can have, too
        return None
