"""How fast the journal appends, opens and verifies; run by hand.

    python tests/record/bench_journal.py [entries ...]     (1000 and 100000 when none are given)

Durable appends are timed on at most 1,000 entries, since each waits for the disk; the longer
journals are then filled without waiting, which is shown in a column of its own.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a script, from anywhere

from assistant.record.audit import audit
from assistant.record.durable import Disk
from assistant.record.journal import Journal

_WALL = "2026-01-02T03:04:05.678Z"
_DATA = {"step": "bars-off", "text": "Take the two clamp bolts out.", "reading": {"value": 12.4}}
_DURABLE = 1000


class _Unsynced(Disk):
    def sync(self, fd: int) -> None:
        """Leave the bytes to the system."""


def _rate(count: int, work: Callable[[], None]) -> str:
    began = time.perf_counter()
    work()
    return f"{count / (time.perf_counter() - began):12,.0f}"


def _fill(folder: Path, count: int, disk: Disk) -> None:
    with Journal.open(folder, disk=disk) as journal:
        for n in range(count):
            journal.append("event", _DATA, _WALL, n / 4)


def _measure(place: Path, count: int) -> str:
    durable, filled = place / f"durable-{count}", place / f"filled-{count}"
    for folder in (durable, filled):
        Journal.create(folder).close()
    few = min(count, _DURABLE)
    cells = [_rate(few, lambda: _fill(durable, few, Disk()))]
    cells.append(_rate(count, lambda: _fill(filled, count, _Unsynced())))

    def verify() -> None:
        found = audit(filled)
        if (found.ok, found.entries) != (True, count):
            raise SystemExit(f"the audit found {found}")

    cells.append(_rate(count, verify))
    cells.append(_rate(count, lambda: Journal.open(filled).close()))
    size = (filled / "journal.jsonl").stat().st_size / count
    return f"{count:>9,} {' '.join(cells)} {size:10.0f}"


def main() -> None:
    """Print the table."""
    counts = [int(text) for text in sys.argv[1:]] or [1_000, 100_000]
    place = Path(tempfile.mkdtemp(prefix="gloves-on-bench-"))
    heads = ("durable/s", "unsynced/s", "audit/s", "open/s")
    titles = " ".join(f"{head:>12}" for head in heads)
    sys.stdout.write(f"{'entries':>9} {titles} {'bytes each':>10}\n")
    try:
        for count in counts:
            sys.stdout.write(f"{_measure(place, count)}\n")
            sys.stdout.flush()
    finally:
        shutil.rmtree(place)


if __name__ == "__main__":
    main()
