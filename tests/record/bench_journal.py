"""How fast the journal appends, opens, verifies and is searched, and in what memory; by hand.

    python tests/record/bench_journal.py [entries ...]     (1000 and 100000 when none are given)

Durable appends are timed on at most 1,000 entries, since each waits for the disk; the longer
journals are then written in one piece. Verifying and opening are timed in a process each, whose
peak memory is shown too, program and libraries included (Linux only). The search is the slowest
of the usual ones, over an index of as many entries in jobs of 300.
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
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))  # run as a script, from anywhere

from assistant.record.entry import genesis, make_entry
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from assistant.store.index import INDEX_FILE, open_index, put_account
from assistant.store.search import find
from tests.store.bench_search import QUERIES, made_up

_WALL = "2026-01-02T03:04:05.678Z"
_DATA = {"step": "bars-off", "text": "Take the two clamp bolts out.", "reading": {"value": 12.4}}
_DURABLE = 1000
_JOB_ENTRIES = 300
_ROUNDS = 5
_TIMED = """
import sys, time
from pathlib import Path
from assistant.record.{module} import {name}
began = time.perf_counter()
{call}
took = time.perf_counter() - began
lines = Path("/proc/self/status").read_text().splitlines()
print(took, next(line.split()[1] for line in lines if line.startswith("VmHWM")))
"""
_VERIFY = {"module": "audit", "name": "audit", "call": "assert audit(Path(sys.argv[1])).ok"}
_OPEN = {"module": "journal", "name": "Journal", "call": "Journal.open(Path(sys.argv[1])).close()"}


def _rate(count: int, seconds: float) -> str:
    return f"{count / seconds:12,.0f}"


def _timed(folder: Path, work: dict[str, str]) -> tuple[float, str]:
    """Seconds that the work took, and the peak resident memory of its process in MB."""
    done = subprocess.run(
        [sys.executable, "-c", _TIMED.format(**work), str(folder)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    seconds, kib = done.stdout.split()
    return float(seconds), f"{int(kib) * 1024 / 1e6:10.0f}"


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


def _append(folder: Path, count: int) -> float:
    """Seconds for so many durable appends."""
    with Journal.create(folder) as journal:
        began = time.perf_counter()
        for n in range(count):
            journal.append("event", _DATA, _WALL, n / 4)
        return time.perf_counter() - began


def _write(folder: Path, count: int) -> None:
    """A journal as so many appends would leave it."""
    Journal.create(folder).close()
    prev = genesis(folder.name)
    with (folder / JOURNAL).open("wb") as file:
        for n in range(count):
            entry = make_entry(n, "event", _DATA, wall=_WALL, mono=n / 4, prev=prev)
            prev = entry.hash
            file.write(entry.line())


def _measure(place: Path, count: int) -> str:
    filled, few = place / f"filled-{count}", min(count, _DURABLE)
    cells = [_rate(few, _append(place / f"durable-{count}", few))]
    _write(filled, count)
    verify_s, verify_mb = _timed(filled, _VERIFY)
    open_s, open_mb = _timed(filled, _OPEN)
    cells += [_rate(count, verify_s), _rate(count, open_s), verify_mb, open_mb]
    cells.append(_search_ms(place, max(1, count // _JOB_ENTRIES)))
    size = (filled / JOURNAL).stat().st_size / count
    return f"{count:>9,} {' '.join(cells)} {size:10.0f}"


def main() -> None:
    """Print the table."""
    counts = [int(text) for text in sys.argv[1:]] or [1_000, 100_000]
    place = Path(tempfile.mkdtemp(prefix="gloves-on-bench-"))
    heads = ("append/s", "audit/s", "open/s")
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
