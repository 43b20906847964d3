"""An open job of any length: at one step of it a question is asked again and again.

Written in one piece, since a million durable appends would take hours.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import cycle, islice
from pathlib import Path
from typing import Any

from assistant.checklist.loader import load
from assistant.job.serial import event_kind, to_data
from assistant.opening import open_job
from assistant.record.entry import make_entry
from assistant.record.folder import JOURNAL
from tests.job.bench import ALL_HAZARDS, ROSTER, Bench

_AT = "hose-on"
_SAID = {"lines": ["22 newton meters.", "Bolt the brake hose on."]}


def long_job(folder: Path, entries: int) -> None:
    """Write an open job of so many entries (some tens at least) into a folder not there yet."""
    began = open_job(
        load({"small.yaml": ALL_HAZARDS}, "small.yaml"),
        {},
        ROSTER,
        now=("2026-03-02T10:00:00.000Z", 1.0),
        engine="keys",
        jobs=folder.parent,
        job=folder.name,
    )
    last = began.keeper.journal.last
    began.keeper.journal.close()
    assert last is not None
    with (folder / JOURNAL).open("ab") as file:
        for kind, data, wall, mono in islice(_things(), entries - 1):
            last = make_entry(last.n + 1, kind, data, wall=wall, mono=mono, prev=last.hash)
            file.write(last.line())


def _things() -> Iterator[tuple[str, dict[str, Any], str, float]]:
    """Kind, data and times of what stands in the journal after its header, without end."""
    bench = Bench()
    bench.run_to(_AT)
    for event in bench.events:
        wall = event.at.wall.replace("Z", ".000Z")
        yield event_kind(event), to_data(event), wall, event.at.mono
    bench.hear("what_torque")
    asked = bench.events[-1]
    wall, mono = asked.at.wall.replace("Z", ".000Z"), asked.at.mono
    for kind, data in cycle([(event_kind(asked), to_data(asked)), ("said", _SAID)]):
        yield kind, data, wall, mono
