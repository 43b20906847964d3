"""One bay of the outage test, as a process that may be killed at any instant and started again.

`python -m tests.store.bay_process HOME ADDRESS JOBS ENTRIES DAYS FAULTS SEED`: writes so many jobs
of so many entries with the real journal, its clock wrong by so many days, and forwards them all
the while; ends when all are sealed and stored. What it has done wrong on purpose it counts in
HOME/faults.
"""

from __future__ import annotations

import random
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from sqlalchemy import Engine, insert
from sqlalchemy.exc import IntegrityError, SQLAlchemyError

from assistant.errors import StoreRefused
from assistant.record.clips import save_clip
from assistant.record.entry import wall_text
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from assistant.record.seal import seal
from assistant.store.address import read_address
from assistant.store.forwarding import forward
from assistant.store.journals import ENTRY
from assistant.store.outbox import Batch
from assistant.store.receiving import take, who_am_i


class Bay:
    """What one run of the process knows; everything else is on its disk."""

    def __init__(self, home: Path, address: str, days: float, faults: str, seed: int) -> None:
        self.jobs = home / "jobs"
        self.engine = read_address(address).open()
        self.faults = faults
        self.chance = random.Random(seed)  # noqa: S311 - faults on purpose
        self.days = days
        self._count = (home / "faults").open("a", encoding="utf-8", buffering=1)

    def count(self, fault: str) -> None:
        """One more fault."""
        self._count.write(f"{fault}\n")

    def now(self) -> tuple[str, float]:
        """The wrong clock; where it also jumps, by up to as much again."""
        days = self.days * (1 + self.chance.uniform(-1, 1)) if self.days else 0.0
        if self.days:
            self.count("clock")
        return wall_text(datetime.now(UTC) + timedelta(days=days)), time.monotonic()

    def write(self, number: int, entries: int) -> bool:
        """Write some more entries of a job; returns whether it is sealed."""
        folder = self.jobs / f"job-{number}"
        known = (folder / JOURNAL).is_file()
        journal = Journal.open(folder, clock=self.now) if known else Journal.create(folder)
        with journal:
            if journal.sealed:
                return True
            for _ in range(self.chance.randrange(10, 60)):
                n = len(journal)
                if n >= entries - 1:
                    seal(journal, *self.now())
                    return True
                data: dict[str, object] = {"job": folder.name, "text": f"entry {n} ü"}
                if n % 25 == 3:
                    data["clip"] = save_clip(folder, self.chance.randbytes(3200)).data()
                journal.append("said", data, *self.now())
        return False

    def forward(self, *, last: bool) -> bool:
        """One run; returns whether all went."""
        try:
            name = who_am_i(self.engine, "bay")
            done = forward(self.engine, name, self.jobs, most=40, send=self.send)
        except SQLAlchemyError as error:
            self.count(f"away {type(error).__name__}")
            time.sleep(0.05)
            return False
        for problem in done.problems:
            self.count(f"problem {problem.job}: {problem.reason}")
        return last and not done.problems

    def send(self, engine: Engine, bay: str, batch: Batch) -> int:
        """Stores a batch, with the faults asked for."""
        half = len(batch.entries) // 2
        if "reorder" in self.faults and half and self.chance.random() < 0.5:
            second = Batch(batch.job, batch.entries[half:])
            self.out_of_turn(lambda: take(engine, bay, second))
            self.out_of_turn(lambda: _raw(engine, bay, second))
        done = take(engine, bay, batch)
        if "double" in self.faults and self.chance.random() < 0.5:
            self.count("double")
            again = take(engine, bay, batch)
            _raw(engine, bay, batch)  # and past our own checks, as any program might
            assert again == 0
        return done

    def out_of_turn(self, send: Callable[[], object]) -> None:
        """Entries that come before those that they follow; if another run was first, no fault."""
        try:
            send()
        except (StoreRefused, IntegrityError):
            self.count("reorder")


def _raw(engine: Engine, bay: str, batch: Batch) -> None:
    rows = [
        {"bay": bay, "job": batch.job, "n": entry.n, "hash": entry.hash, "prev": entry.prev,
         "kind": entry.kind, "line": entry.line()}
        for entry in batch.entries
    ]  # fmt: skip
    with engine.begin() as connection:
        connection.execute(insert(ENTRY), rows)


def main(given: list[str]) -> None:
    """Write and forward until all is done."""
    home, address, jobs, entries, days, faults, seed = given
    bay = Bay(Path(home), address, float(days), faults, int(seed))
    while True:
        sealed = [bay.write(number, int(entries)) for number in range(int(jobs))]
        if bay.forward(last=all(sealed)):
            return


if __name__ == "__main__":
    main(sys.argv[1:])
