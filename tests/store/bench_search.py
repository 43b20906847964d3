"""How long a search takes over so many jobs: `python -m tests.store.bench_search [N [server]]`.

Prints a Markdown table. A search is timed with the opening of its connection, as one command does
it; on a server that is a process of its own each time. There, statistics of what was put in are
made first, as a server does by itself within a minute.
"""

from __future__ import annotations

import os
import random
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from sqlalchemy import Engine

from assistant.store.address import read_address
from assistant.store.index import INDEX_FILE, open_index, put_account
from assistant.store.search import Wanted, find
from assistant.store.setup import set_up
from tests.store.server import Server

QUERIES = {
    "vehicle": Wanted(vehicle="tag 77"),
    "person": Wanted(person="ines"),
    "step": Wanted(step="lever-hold"),
    "part": Wanted(part="WL-CW-38"),
    "trouble": Wanted(trouble="stripped"),
    "out of limits": Wanted(out_of_limits=True),
    "reading": Wanted(reading="resting voltage"),
    "reading out": Wanted(reading="resting voltage", out_of_limits=True),
    "date": Wanted(since="2026-03-02", until="2026-03-08"),
    "all at once": Wanted(person="mara", step="hose", out_of_limits=True, since="2026-01-01"),
}
_ROUNDS = 40


def made_up(number: int, chance: random.Random) -> dict[str, Any]:
    """A job's account: 59 steps, ten parts, ten readings, five torques, now and then a trouble."""
    day = f"2026-{number % 12 + 1:02d}-{number // 12 % 28 + 1:02d}T10:00:00.000Z"
    checklist = {"id": f"list-{number % 12}", "title": "List", "version": "1.0.0", "sha256": "0"}
    step = {"at": day, "who": "mara", "second": None, "seconds": 60.0}
    return {
        "id": f"job-{number}", "size": 1, "changed_ns": 1, "checklist": checklist,
        "vehicle": f"tag {number % 400}", "status": "released", "began": day, "ended": day,
        "seal": "0" * 64,
        "people": [{"id": chance.choice(["mara", "ines", "tobin"]), "name": "Name"}],
        "steps": [{"number": n, "step": f"step-{n}", **step} for n in range(57)]
        + [{"number": n, "step": name, **step} for n, name in enumerate(("lever-hold", "hose-on"))],
        "parts": [{"step": "s", "name": "washer", "number": f"WL-CW-{n}", "count": 2}
                  for n in range(number % 40, number % 40 + 10)],
        "readings": [{"step": "s", "name": "resting voltage", "value": "12.6 V", "at": day,
                      "within": chance.random() > 0.01, "limits": ""} for _ in range(10)],
        "troubles": [{"step": "s", "kind": "stripped-thread", "cleared": True, "text": "",
                      "at": day}] if chance.random() < 0.05 else [],
        "torques": [{"step": "s", "fastener": "bolt", "value": "22 N·m", "wrench": "short wrench",
                     "set_to": "22 N·m", "at": day, "who": "mara"} for _ in range(5)],
    }  # fmt: skip


def main(count: int = 10_000, where: str = "file") -> None:
    """Build an index in a file, or with "server" on PostgreSQL, and time the searches."""
    with tempfile.TemporaryDirectory() as folder:
        if where == "file":
            timed(open_index(Path(folder) / INDEX_FILE), count)
            return
        server = Server(durable=True)
        try:
            server.sql("create database bench")
            engine = read_address(server.address("bench")).open()
            set_up(engine)
            timed(engine, count)
        finally:
            server.remove()


def timed(engine: Engine, count: int) -> None:
    """Fill an index and print how long each search takes."""
    chance = random.Random(1)  # noqa: S311 - made-up jobs
    began = time.perf_counter()
    with engine.begin() as connection:
        for number in range(count):
            put_account(connection, made_up(number, chance))
    took = time.perf_counter() - began
    if engine.dialect.name == "postgresql":
        with engine.begin() as connection:
            connection.exec_driver_sql("ANALYZE")
    where = engine.dialect.name
    load = " ".join(f"{one:.2f}" for one in os.getloadavg())
    sys.stdout.write(f"{count:,} jobs in {where}, put in in {took:.1f} s; load {load}\n\n")
    sys.stdout.write("| search | found | median ms | 95 % ms | n |\n|---|---|---|---|---|\n")
    for name, wanted in QUERIES.items():
        times, found = search_times(engine, wanted, _ROUNDS)
        middle, high = statistics.median(times), statistics.quantiles(times, n=20)[-1]
        figures = f"{middle * 1000:.1f} | {high * 1000:.1f} | {len(times)}"
        sys.stdout.write(f"| {name} | {found} | {figures} |\n")
        sys.stdout.flush()
    engine.dispose()


def search_times(engine: Engine, wanted: Wanted, rounds: int) -> tuple[list[float], int]:
    """Seconds that each of some rounds of a search took, and how many jobs were found."""
    times, found = [], 0
    for _ in range(rounds):
        began = time.perf_counter()
        found = len(find(engine, wanted))
        times.append(time.perf_counter() - began)
    return times, found


if __name__ == "__main__":
    main(int((sys.argv[1:2] or ["10000"])[0]), *sys.argv[2:3])
