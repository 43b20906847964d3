"""Whole records of small jobs, played through the dialogue and written by the real keeper."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from assistant.checklist.loader import load
from assistant.job.events import Opened
from assistant.job.serial import event_kind, to_data
from assistant.job.state import ShopWrench
from assistant.opening import open_job
from assistant.shelf import load_checklist
from tests.job.bench import ALL_HAZARDS, ROSTER, Bench


def played(
    jobs: Path,
    job: str,
    vehicle: str,
    *,
    trouble: bool = False,
    low: bool = False,
    wrenches: Sequence[ShopWrench] = (),
    checklist: Path | None = None,
) -> Path:
    """A released job of the bench's checklist in a folder of jobs.

    Args:
        jobs: the folder.
        job: its id.
        vehicle: as the shop calls it.
        trouble: a leak is reported and cleared on the way.
        low: a reading is out of limits first.
        wrenches: the shop's.
        checklist: the file that it begins with; the bench's text without a file if left out.
    """
    if checklist is None:
        loaded = load({"small.yaml": ALL_HAZARDS}, "small.yaml")
    else:
        loaded = load_checklist(checklist)
    opened = open_job(
        loaded,
        {},
        ROSTER,
        now=("2026-03-02T10:00:00.000Z", 1.0),
        engine="keys",
        jobs=jobs,
        job=job,
        wrenches=wrenches,
    )
    bench = Bench(opened.setting)
    first = bench.events[0]
    assert isinstance(first, Opened)
    bench.events[0] = replace(first, job=job, vehicle=vehicle)
    if trouble:
        bench.run_to("hose-on")
        bench.hear("report_trouble")
        bench.hear("trouble_kind", trouble="leak")
        bench.dictate(text="weeps at the banjo")
        bench.hear("trouble_cleared")
    if low:
        bench.run_to("resting-voltage")
        for value in ("11", "12.8"):
            bench.hear("reading", number=value, unit="V")
            bench.hear("affirm")
    bench.finish()
    for event in bench.events:
        wall = event.at.wall.replace("Z", ".000Z")
        opened.keeper.append(event_kind(event), to_data(event), wall, event.at.mono)
    opened.keeper.seal("2026-03-02T11:00:00.000Z", bench.now + 1)
    opened.keeper.journal.close()
    return jobs / job
