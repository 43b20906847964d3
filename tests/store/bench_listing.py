"""The first `gloveson jobs` over many new job folders, and later ones: by hand.

    python -m tests.store.bench_listing [JOBS [FOLDER]]     (10000 if left out)

The folders are records of the shipped checklists, each played once, sealed, without sound, with
what the assistant said; a record is then written anew under each job's id, with a vehicle and a
day of its own. With FOLDER they are kept there for another run.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from datetime import date, timedelta
from pathlib import Path
from typing import Any

from assistant.record.chain import SEALED
from assistant.record.entry import Entry, genesis, make_entry
from assistant.record.folder import CHECKLIST, CLIPS, JOURNAL
from assistant.record.reading import read_entries
from tests.store.records import played

ROOT = Path(__file__).parents[2]
_SAID = {"lines": ["Step complete.", "Take the two clamp bolts out, and hold the bar with a hand."]}


def main(count: int = 10_000, kept: str = "") -> None:
    """Make the folders and print how long the command takes over them."""
    home = Path(kept or tempfile.mkdtemp(prefix="gloves-on-listing-"))
    try:
        made = time.perf_counter()
        entries = _fill(home / "jobs", count)
        made = time.perf_counter() - made
        load = " ".join(f"{one:.2f}" for one in os.getloadavg())
        sys.stdout.write(f"{count:,} jobs, {entries:,} entries made in {made:.0f} s; load {load}\n")
        sys.stdout.write("\n| `gloveson jobs` | found | seconds |\n|---|---|---|\n")
        for told, given in (
            ("the first time", ["--vehicle", "tag 77"]),
            ("again", ["--vehicle", "tag 77"]),
            ("again, by step", ["--step", "lever"]),
        ):
            found, seconds = _listed(home, given)
            sys.stdout.write(f"| {told} | {found} | {seconds:.1f} |\n")
            sys.stdout.flush()
        size = sum(path.stat().st_size for path in home.glob("index.sqlite*"))
        sys.stdout.write(f"\nthe index: {size / 1e6:.0f} MB\n")
    finally:
        if not kept:
            shutil.rmtree(home)


def _listed(home: Path, given: list[str]) -> tuple[str, float]:
    began = time.perf_counter()
    ran = subprocess.run(
        [sys.executable, "-m", "assistant.cli.main", "jobs", *given],
        stdout=subprocess.PIPE, text=True, check=True, cwd=ROOT,
        env={**os.environ, "GLOVESON_HOME": str(home)},
    )  # fmt: skip
    return ran.stdout.splitlines()[-1], time.perf_counter() - began


def _fill(jobs: Path, count: int) -> int:
    """Job folders, where there are none yet; returns the number of entries of all."""
    if jobs.is_dir():
        return sum((folder / JOURNAL).read_bytes().count(b"\n") for folder in jobs.iterdir())
    total = 0
    with tempfile.TemporaryDirectory(prefix="gloves-on-played-") as place:
        models = [
            played(Path(place), file.stem, "tag", checklist=file)
            for file in sorted((ROOT / "checklists").glob("*.yaml"))
        ]
        for number in range(count):
            model = models[number % len(models)]
            total += _copy(model, jobs / f"job-{number:06d}", number)
    return total


def _copy(model: Path, folder: Path, number: int) -> int:
    """The record anew under another id, vehicle and day; returns how many entries it has."""
    shutil.copytree(model / CHECKLIST, folder / CHECKLIST)
    (folder / CLIPS).mkdir()
    day = (date(2025, 1, 1) + timedelta(number % 600)).isoformat()
    prev, lines = genesis(folder.name), list[bytes]()
    for kind, data, entry in _told(read_entries(model), folder.name, number):
        kept = {**data, "entries": len(lines)} if kind == SEALED else data
        wall = f"{day}{entry.wall[10:]}"
        one = make_entry(len(lines), kind, kept, wall=wall, mono=entry.mono, prev=prev)
        prev = one.hash
        lines.append(one.line())
    (folder / JOURNAL).write_bytes(b"".join(lines))
    return len(lines)


def _told(
    entries: tuple[Entry, ...], job: str, number: int
) -> Iterator[tuple[str, dict[str, Any], Entry]]:
    """The entries with the id and the vehicle of a job, and after each what was said."""
    for entry in entries:
        data: dict[str, Any] = dict(entry.data)
        if "job" in data:
            data["job"] = job
        if "vehicle" in data:
            data["vehicle"] = f"tag {number % 400}"
        yield entry.kind, data, entry
        if entry.kind not in ("job", SEALED):
            yield "said", _SAID, entry


if __name__ == "__main__":
    main(int((sys.argv[1:2] or ["10000"])[0]), *sys.argv[2:3])
