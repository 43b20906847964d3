"""How fast the journal appends, is replayed, verified and searched, and in what memory; by hand.

    python tests/record/bench_journal.py [entries ...]    (1000 and 100000 when none are given)

Prints a Markdown table. Durable appends are timed on at most 1,000 entries, since each waits for
the disk; the longer journals are then written in one piece. Replaying is what `resume` does,
verifying what `audit` does and the account what `record` prints; each has a process of its own,
whose peak memory is shown, program and libraries included (Linux only). The search is the slowest
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

from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from assistant.store.index import INDEX_FILE, open_index, put_account
from tests.record.long_job import long_job
from tests.store.bench_search import QUERIES, made_up, search_times

_WALL = "2026-01-02T03:04:05.678Z"
_DATA = {"step": "bars-off", "text": "Take the two clamp bolts out.", "reading": {"value": 12.4}}
_DURABLE = 1000
_JOB_ENTRIES = 300
_ROUNDS = 20
_TIMED = """
import sys, time
from pathlib import Path
from assistant.{module} import {name}
began = time.perf_counter()
{call}
took = time.perf_counter() - began
lines = Path("/proc/self/status").read_text().splitlines()
print(took, next(line.split()[1] for line in lines if line.startswith("VmHWM")))
"""
_REPLAY = {
    "module": "opening",
    "name": "resume_job",
    "call": "resume_job(Path(sys.argv[1])).keeper.journal.close()",
}
_VERIFY = {"module": "record.audit", "name": "audit", "call": "assert audit(Path(sys.argv[1])).ok"}
_ACCOUNT = {"module": "accounts", "name": "account_of", "call": "account_of(Path(sys.argv[1]))"}
_HEADS = (
    "entries", "append/s, synced", "replay/s", "MB", "verify/s", "MB", "account/s", "MB",
    "jobs searched", "search, median ms", "95 % ms", "bytes an entry",
)  # fmt: skip


def _rate(count: int, seconds: float) -> str:
    return f"{count / seconds:,.0f}"


def _timed(folder: Path, count: int, work: dict[str, str]) -> tuple[str, str]:
    """Entries a second, and the peak resident memory of the process in MB."""
    done = subprocess.run(
        [sys.executable, "-c", _TIMED.format(**work), str(folder)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    seconds, kib = done.stdout.split()
    return _rate(count, float(seconds)), f"{int(kib) * 1024 / 1e6:.0f}"


def _search_ms(place: Path, jobs: int) -> tuple[str, str]:
    """Median and 95 % of the slowest of the usual searches over this many jobs."""
    engine, chance = open_index(place / f"{jobs}-{INDEX_FILE}"), random.Random(7)  # noqa: S311 - data
    with engine.begin() as connection:
        for number in range(jobs):
            put_account(connection, made_up(number, chance))
    took = [search_times(engine, wanted, _ROUNDS)[0] for wanted in QUERIES.values()]
    engine.dispose()
    slowest = max(took, key=statistics.median)
    middle, high = statistics.median(slowest), statistics.quantiles(slowest, n=20)[-1]
    return f"{middle * 1000:.1f}", f"{high * 1000:.1f}"


def _append(folder: Path, count: int) -> float:
    """Seconds for so many durable appends."""
    with Journal.create(folder) as journal:
        began = time.perf_counter()
        for n in range(count):
            journal.append("event", _DATA, _WALL, n / 4)
        return time.perf_counter() - began


def _measure(place: Path, count: int) -> str:
    filled, few = place / f"filled-{count}", min(count, _DURABLE)
    cells = [f"{count:,}", _rate(few, _append(place / f"durable-{count}", few))]
    long_job(filled, count)
    for work in (_REPLAY, _VERIFY, _ACCOUNT):
        cells += _timed(filled, count, work)
    jobs = max(1, count // _JOB_ENTRIES)
    size = (filled / JOURNAL).stat().st_size / count
    cells += [f"{jobs:,}", *_search_ms(place, jobs), f"{size:.0f}"]
    return f"| {' | '.join(cells)} |"


def main() -> None:
    """Print the table."""
    counts = [int(text) for text in sys.argv[1:]] or [1_000, 100_000]
    place = Path(tempfile.mkdtemp(prefix="gloves-on-bench-"))
    load = " ".join(f"{one:.2f}" for one in os.getloadavg())
    sys.stdout.write(f"{os.cpu_count()} cores, load {load} at the start\n\n")
    sys.stdout.write(f"| {' | '.join(_HEADS)} |\n|{'---|' * len(_HEADS)}\n")
    try:
        for count in counts:
            sys.stdout.write(f"{_measure(place, count)}\n")
            sys.stdout.flush()
    finally:
        shutil.rmtree(place)


if __name__ == "__main__":
    main()
