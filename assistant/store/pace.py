"""How long the shop's finished jobs took, from the index."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from sqlalchemy import Engine, select
from sqlalchemy.exc import SQLAlchemyError

from assistant.errors import BadInput
from assistant.job.pace import Took, learn
from assistant.store.index import open_index, refresh
from assistant.store.tables import JOB, STEP

_MOST_READ: Final = 5
"""New records that are read when a job begins: each takes a third of a second here. What is left
is read by later jobs, or by `gloveson jobs`."""


def taken(engine: Engine, checklist: str) -> list[Took]:
    """Every confirmed step of every released job on this checklist, in order."""
    wanted = (
        select(STEP.c.job, STEP.c.step, STEP.c.seconds)
        .join(JOB, JOB.c.id == STEP.c.job)
        .where(JOB.c.checklist == checklist, JOB.c.status == "released")
        .order_by(STEP.c.row)
    )
    with engine.connect() as connection:
        return [Took(row.job, row.step, row.seconds) for row in connection.execute(wanted)]


def learned_in(jobs: Path, index: Path, checklist: str) -> dict[str, float]:
    """Minutes that the steps of a checklist take in this shop; see `job.pace.learn`.

    Args:
        jobs: folder of all jobs.
        index: file of the index; the latest few new jobs are read into it.
        checklist: its id.

    Raises:
        BadInput: the index can't be used now, for example because another bay writes it.
    """
    if not jobs.is_dir():
        return {}
    engine = open_index(index)
    try:
        refresh(engine, jobs, _MOST_READ)
        return learn(taken(engine, checklist))
    except SQLAlchemyError as error:
        msg = f"the index {index} can't be used now: {type(error).__name__}"
        raise BadInput(msg) from error
    finally:
        engine.dispose()
