"""The outage test: bays forward while everything goes wrong. Prints a table in Markdown.

`python -m tests.store.outage [ENTRIES]`: of each of three jobs in each of three bays, for each
fault (default 600, so 5,400 entries a fault). The server syncs as it does in a shop.
"""

from __future__ import annotations

import os
import random
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import Engine, func, select

from assistant.record.audit import audit
from assistant.record.entry import parse_line
from assistant.record.folder import JOURNAL
from assistant.store.address import read_address
from assistant.store.fetching import fetch
from assistant.store.journals import ENTRY, REFUSED
from assistant.store.setup import add_login, set_up
from tests.store.server import Server
from tests.store.trees import tree

FAULTS = {
    "none": "",
    "server stopped hard, started": "stop",
    "connections cut": "cut",
    "batches sent twice": "double",
    "batches out of order": "reorder",
    "bay killed -9, started": "kill",
    "clocks wrong by up to 80 days": "clock",
    "all of them at once": "stop cut double reorder kill clock",
}
ROOT = Path(__file__).parents[2]
_LONGEST_S = 240
"""A trial that hangs is ended; on two busy cores the longest one took a minute."""
_DAYS = (-30.0, 40.0, 3.0, -0.5)


@dataclass
class Row:
    """A line of the table.

    Attributes:
        fault: what went wrong.
        times: how often, by kind.
        sent: entries on the bays' disks at the end.
        stored: rows in the store.
        lost: entries that are on a disk and not in the store, byte for byte.
        doubled: rows more than different (bay, job, n).
        strange: rows that are on no disk.
        refused: entries kept apart.
        restored: records that came back byte for byte and pass the audit, of how many.
        seconds: how long it took.
    """

    fault: str
    times: Counter[str]
    sent: int = 0
    stored: int = 0
    lost: int = 0
    doubled: int = 0
    strange: int = 0
    refused: int = 0
    restored: tuple[int, int] = (0, 0)
    seconds: float = 0.0

    def right(self) -> bool:
        """Whether nothing was lost, doubled, made up or kept apart, and all came back."""
        wrong = self.lost + self.doubled + self.strange + self.refused
        return not wrong and self.sent == self.stored and self.restored[0] == self.restored[1]


class Trial:
    """Bays of one database, under some faults."""

    def __init__(self, server: Server, number: int, fault: str, place: Path) -> None:
        self.server, self.fault, self.place = server, fault, place
        self.faults = FAULTS[fault]
        self.database = f"outage_{number}"
        self.chance = random.Random(number)  # noqa: S311 - when faults happen
        self.times: Counter[str] = Counter()
        self.before: dict[str, int] = {}  # progress at the last fault, by what it hit
        self.until = 0.0
        server.sql(f"create database {self.database}")
        self.owner = read_address(server.address(self.database)).open()
        set_up(self.owner)

    def run(self, bays: int, jobs: int, entries: int) -> Row:
        """Let the bays work under the faults until all have stored all."""
        names = [f"{self.database}_bay_{n}" for n in range(bays)]
        for name in names:
            add_login(self.owner, name, "bay", "")
            (self.place / name).mkdir(parents=True)
        began = time.monotonic()
        self.until = began + _LONGEST_S
        if "stop" in self.faults:  # they begin while it is away
            self.server.stop("immediate")
        self._work(names, jobs, entries)
        row = self.counted(names)
        row.seconds = time.monotonic() - began
        return row

    def _work(self, names: list[str], jobs: int, entries: int) -> None:
        running = {name: self._start(name, jobs, entries) for name in names}
        try:
            while running:
                if time.monotonic() > self.until:
                    raise RuntimeError(f"{self.fault}: not done after {_LONGEST_S} s")
                for name, process in list(running.items()):
                    if process.poll() == 0:
                        del running[name]
                    elif process.returncode is not None and process.returncode != -9:
                        told = (self.place / name / "stderr").read_text(encoding="utf-8")
                        raise RuntimeError(f"{name} ended with {process.returncode}: {told}")
                    elif process.returncode == -9:
                        running[name] = self._start(name, jobs, entries)
                self._disturb(running)
        finally:
            for process in running.values():
                process.kill()
                process.wait()

    def _start(self, name: str, jobs: int, entries: int) -> subprocess.Popen[bytes]:
        days = _DAYS[int(name[-1]) % len(_DAYS)] if "clock" in self.faults else 0.0
        seed = self.chance.randrange(1 << 30)
        given = [self.place / name, self.server.address(self.database, name), jobs, entries, days,
                 self.faults, seed]  # fmt: skip
        with (self.place / name / "stderr").open("ab") as errors:
            return subprocess.Popen(
                [sys.executable, "-m", "tests.store.bay_process", *map(str, given)],
                cwd=ROOT,
                stderr=errors,
            )

    def _disturb(self, running: dict[str, subprocess.Popen[bytes]]) -> None:
        """One fault, or a short while of peace."""
        time.sleep(self.chance.uniform(0.1, 0.8))
        if "stop" in self.faults and not self.times["stop"]:
            time.sleep(1)
            self.server.start()
            self.times["stop"] += 1
        kinds = [kind for kind in ("stop", "cut", "kill") if kind in self.faults]
        if not kinds or not running:
            return
        kind = self.chance.choice(kinds)
        if kind == "stop":
            if not self._went_on("", "%"):
                return
            self.server.stop("immediate")
            time.sleep(self.chance.uniform(0.05, 0.5))
            self.server.start()
        elif kind == "cut":
            cut = self.server.sql(
                "select pg_terminate_backend(pid) from pg_stat_activity "  # noqa: S608 - our own
                f"where datname = '{self.database}' and pid <> pg_backend_pid()"
            )
            self.times["cut"] += cut.count("t")
            return
        else:
            name = self.chance.choice(list(running))
            process = running[name]
            if process.poll() is not None or not self._went_on(name, name):
                return
            process.kill()
            process.wait()
        self.times[kind] += 1

    def _went_on(self, what: str, bays: str) -> bool:
        """Whether some entry was stored since the last such fault.

        On a busy machine, faults that come faster than any work is done would show nothing.
        """
        asked = select(func.count()).select_from(ENTRY).where(ENTRY.c.bay.like(bays))
        with self.owner.connect() as connection:
            now = connection.scalar(asked) or 0
        before, self.before[what] = self.before.get(what, 0), now
        return now > before

    def counted(self, names: list[str]) -> Row:
        """Compare what is in the store with what is on the bays' disks."""
        for name in names:
            told = (self.place / name / "faults").read_text(encoding="utf-8").splitlines()
            self.times.update(line.split(" ")[0] for line in told)
        row = Row(self.fault, self.times)
        with self.owner.connect() as connection:
            keys = select(ENTRY.c.bay, ENTRY.c.job, ENTRY.c.n).distinct().subquery()
            row.stored = connection.scalar(select(func.count()).select_from(ENTRY)) or 0
            row.doubled = row.stored - (
                connection.scalar(select(func.count()).select_from(keys)) or 0
            )
            row.refused = connection.scalar(select(func.count()).select_from(REFUSED)) or 0
            held = {
                (entry.bay, entry.job, entry.n): entry.line
                for entry in connection.execute(
                    select(ENTRY.c.bay, ENTRY.c.job, ENTRY.c.n, ENTRY.c.line)
                )
            }
        on_disk = _on_disk(self.place, names)
        row.sent = len(on_disk)
        row.lost = sum(held.get(key) != line for key, line in on_disk.items())
        row.strange = len(held.keys() - on_disk.keys())
        row.restored = self._restored(self.owner, names)
        return row

    def _restored(self, engine: Engine, names: list[str]) -> tuple[int, int]:
        good = whole = 0
        for name in names:
            for folder in sorted((self.place / name / "jobs").glob("job-*")):
                with tempfile.TemporaryDirectory() as back:
                    fetch(engine, name, folder.name, Path(back))
                    checked = audit(Path(back), folder.name)
                    same = tree(Path(back)) == tree(folder)
                good += same and checked.ok and checked.seal is not None
                whole += 1
        return good, whole


def _on_disk(place: Path, names: list[str]) -> dict[tuple[str, str, int], bytes]:
    found = {}
    for name in names:
        for folder in sorted((place / name / "jobs").glob("job-*")):
            with (folder / JOURNAL).open("rb") as file:
                for line in file:
                    found[name, folder.name, parse_line(line).n] = line
    return found


def main(entries: int = 600) -> int:
    """Every fault by itself, then all at once; returns 1 when anything is wrong."""
    wrong = 0
    server = Server(durable=True)
    place = Path(tempfile.mkdtemp(prefix="go-outage-"))
    load = " ".join(f"{one:.2f}" for one in os.getloadavg())
    sys.stdout.write(f"{server.sql('show server_version').strip()}; load {load}\n\n")
    heads = ("fault", "how often", "sent", "stored", "lost", "doubled", "kept apart", "back", "s")
    sys.stdout.write(f"| {' | '.join(heads)} |\n|{'---|' * len(heads)}\n")
    try:
        for number, fault in enumerate(FAULTS):
            row = Trial(server, number, fault, place).run(3, 3, entries)
            sys.stdout.write(f"{_line(row)}\n")
            sys.stdout.flush()
            wrong += not row.right()
    finally:
        server.remove()
        shutil.rmtree(place, ignore_errors=True)
    return int(wrong > 0)


def _line(row: Row) -> str:
    """A line of the table."""
    times = ", ".join(f"{kind} {many}" for kind, many in sorted(row.times.items())) or "-"
    cells = (
        row.fault if row.right() else f"{row.fault} (WRONG)", times, row.sent, row.stored, row.lost,
        row.doubled, row.refused, f"{row.restored[0]} of {row.restored[1]}", f"{row.seconds:.0f}",
    )  # fmt: skip
    return f"| {' | '.join(map(str, cells))} |"


if __name__ == "__main__":
    sys.exit(main(*map(int, sys.argv[1:])))
