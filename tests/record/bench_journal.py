"""How fast the journal appends, opens, verifies and is searched, and in what memory; by hand.

    python tests/record/bench_journal.py [entries ...]     (1000 and 100000 when none are given)

Durable appends are timed on at most 1,000 entries, since each waits for the disk; the longer
journals are then filled without waiting, which is shown in a column of its own. Peak memory is
that of a process of its own, its program and libraries included. The search is the slowest of
the usual ones, over an index of as many entries in jobs of 300.
"""

from __future__ import annotations

import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a script, from anywhere

from assistant.record.audit import audit
from assistant.record.durable import Disk
from assistant.record.journal import Journal
from assistant.store.index import INDEX_FILE, open_index, put_account
from assistant.store.search import find
from tests.store.bench_search import QUERIES, made_up

_WALL = "2026-01-02T03:04:05.678Z"
_DATA = {"step": "bars-off", "text": "Take the two clamp bolts out.", "reading": {"value": 12.4}}
_DURABLE = 1000
_JOB_ENTRIES = 300
_ROUNDS = 5
_PEAK = """
import resource, sys
from pathlib import Path
from assistant.record.{module} import {name}
{call}
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""
_VERIFY = {"module": "audit", "name": "audit", "call": "assert audit(Path(sys.argv[1])).ok"}
_OPEN = {"module": "journal", "name": "Journal", "call": "Journal.open(Path(sys.argv[1])).close()"}


class _Unsynced(Disk):
    def sync(self, fd: int) -> None:
        """Leave the bytes to the system."""


def _rate(count: int, work: Callable[[], None]) -> str:
    began = time.perf_counter()
    work()
    return f"{count / (time.perf_counter() - began):12,.0f}"


def _peak_mb(folder: Path, work: dict[str, str]) -> str:
    """Peak resident memory in MB (ru_maxrss counts KiB on Linux)."""
    done = subprocess.run(
        [sys.executable, "-c", _PEAK.format(**work), str(folder)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    return f"{int(done.stdout) * 1024 / 1e6:10.0f}"


def _search_ms(place: Path, jobs: int) -> str:
    """The slowest of the usual searches over this many jobs, median of its rounds."""
    engine, chance = open_index(place / f"{jobs}-{INDEX_FILE}"), random.Random(7)  # noqa: S311 - data
    with engine.begin() as connection:
        for number in range(jobs):
            put_account(connection, made_up(number, chance))
    took = []
    for wanted in QUERIES.values():
        times = []
        for _ in range(_ROUNDS):
            began = time.perf_counter()
            find(engine, wanted)
            times.append(time.perf_counter() - began)
        took.append(statistics.median(times))
    engine.dispose()
    return f"{max(took) * 1000:10.1f}"


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
    cells += [_peak_mb(filled, _VERIFY), _peak_mb(filled, _OPEN)]
    cells.append(_search_ms(place, max(1, count // _JOB_ENTRIES)))
    return f"{count:>9,} {' '.join(cells)} {size:10.0f}"


def main() -> None:
    """Print the table."""
    counts = [int(text) for text in sys.argv[1:]] or [1_000, 100_000]
    place = Path(tempfile.mkdtemp(prefix="gloves-on-bench-"))
    heads = ("durable/s", "unsynced/s", "audit/s", "open/s")
    titles = " ".join(f"{head:>12}" for head in heads)
    more = " ".join(f"{head:>10}" for head in ("audit MB", "open MB", "search ms", "bytes each"))
    sys.stdout.write(f"load {os.getloadavg()}\n{'entries':>9} {titles} {more}\n")
    try:
        for count in counts:
            sys.stdout.write(f"{_measure(place, count)}\n")
            sys.stdout.flush()
    finally:
        shutil.rmtree(place)


if __name__ == "__main__":
    main()
