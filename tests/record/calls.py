"""A record's life, stopped or refused at the n-th system call that it makes on its folder.

The kernel does it: strace traces the process and kills it as it enters the call, or lets the call
fail with an error. `python -m tests.record.calls [every K-th call]` prints the table of all calls.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path

from assistant.record.audit import audit
from assistant.record.folder import JOURNAL
from assistant.record.reading import read_entries
from tests.record.making import CHECKLIST, JOB

ROOT = Path(__file__).parents[2]
CALLS = ("write", "fsync", "openat", "mkdir")
ERRORS = {"write": ("ENOSPC", "EIO"), "fsync": ("EIO",), "openat": ("EROFS", "ENOSPC")}
CONFIRMATIONS = 6


@dataclass
class Counts:
    """What came of the runs of one row.

    Attributes:
        stopped: lives that were killed, or ended because a job could not begin.
        alarms: refusals that were told.
        never_begun: stopped before the first entry; nothing had been acknowledged.
        acknowledged: confirmations told before the end of the first life.
        wrong: what went against the rules, in words.
    """

    runs: int = 0
    stopped: int = 0
    alarms: int = 0
    never_begun: int = 0
    acknowledged: int = 0
    wrong: list[str] = field(default_factory=list)


def can_trace() -> bool:
    """Whether strace is here and this process may trace another."""
    if shutil.which("strace") is None:
        return False
    tried = subprocess.run(["strace", "-qq", "true"], capture_output=True, check=False)
    return tried.returncode == 0


def live(folder: Path, inject: str | None, log: Path) -> tuple[int, list[str]]:
    """One life; returns its exit code and what it told.

    Args:
        folder: the job's.
        inject: what strace injects, for example "fsync:signal=KILL:when=3".
        log: where strace writes the calls it saw.
    """
    clips = [f"clips/{n:06d}.flac" for n in range(1, 2 * CONFIRMATIONS)]
    names = ["", JOURNAL, "clips", "checklist", "checklist/shared", *clips]
    names += [f"checklist/{name}" for name in CHECKLIST]
    paths = [word for name in names for word in ("-P", str(folder / name).rstrip("/"))]
    trace = ["strace", "-f", "-qq", "-o", str(log), *paths, "-e", f"trace={','.join(CALLS)}"]
    command = [sys.executable, "-m", "tests.record.life", str(folder), str(CONFIRMATIONS)]
    if inject is not None:
        trace += ["-e", f"inject={inject}"]
    done = subprocess.run(
        [*(trace if inject is not None or not folder.exists() else []), *command],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    if "Traceback" in done.stderr:
        raise AssertionError(done.stderr)
    return done.returncode, done.stdout.split()


def calls_of_a_life(place: Path) -> Counter[str]:
    """How often an undisturbed life makes each call on its folder."""
    log = place / "calls"
    code, told = live(place / "whole" / JOB, None, log)
    assert (code, told[-1]) == (0, "sealed"), told
    return Counter(re.findall(rf"^\d+ +({'|'.join(CALLS)})\(", log.read_text(), re.MULTILINE))


def try_one(folder: Path, inject: str, counts: Counts) -> None:
    """A life with one thing injected, then, if it ended early, a second one; then the checks."""
    counts.runs += 1
    code, told = live(folder, inject, folder.parent / f"{folder.name}.calls")
    counts.alarms += told.count("alarm")
    said = [int(word) for word in told if word.isdigit()]
    counts.acknowledged += len(said)
    if told[-1:] != ["sealed"]:
        counts.stopped += 1
        before = audit(folder) if (folder / JOURNAL).is_file() else None
        if before is None or before.entries == 0:
            counts.never_begun += 1
            if said:
                counts.wrong.append(f"{inject}: acknowledged, and the job is not there")
            return
        torn = before.problem is not None and "is torn" in before.problem
        if not before.ok and not torn:
            counts.wrong.append(f"{inject}: the audit after it says {before.problem}")
        code, told = live(folder, None, folder.parent / "second.calls")
    if (code, told[-1:]) != (0, ["sealed"]):
        counts.wrong.append(f"{inject}: the job did not go on: {code} {told}")
        return
    kept = [e.data["number"] for e in read_entries(folder) if e.kind == "confirmed"]
    if kept != list(range(CONFIRMATIONS)):
        counts.wrong.append(f"{inject}: on record {kept}, acknowledged {said}")
    found = audit(folder)
    if not found.ok or found.seal is None:
        counts.wrong.append(f"{inject}: the audit says {found.problem}")


def row(place: Path, call: str, what: str, numbers: Sequence[int], until: str = "") -> Counts:
    """One row of the table: the same thing injected at each of these calls in turn."""
    counts = Counts()
    for number in numbers:
        home = Path(tempfile.mkdtemp(dir=place))
        when = f"{number}..{number + int(until)}" if until else str(number)
        try_one(home / JOB, f"{call}:{what}:when={when}", counts)
    return counts


def main() -> None:
    """Print the table of kills and refusals at every K-th call."""
    step = int(sys.argv[1]) if len(sys.argv) > 1 else 1
    with tempfile.TemporaryDirectory(prefix="gloves-on-calls-") as name:
        place = Path(name)
        made = calls_of_a_life(place)
        tries = [(call, "signal=KILL", "") for call in CALLS]
        tries += [(call, f"error={error}", "") for call, some in ERRORS.items() for error in some]
        tries += [(call, f"error={some[0]}", "4") for call, some in ERRORS.items()]
        sys.stdout.write(
            f"{'call':8}{'injected':>20}{'runs':>6}{'stopped':>9}{'not begun':>11}"
            f"{'alarms':>8}{'told':>6}{'wrong':>7}\n"
        )
        for call, what, until in tries:
            found = row(place, call, what, range(1, made[call] + 1, step), until)
            times = f"{what} x5" if until else what
            sys.stdout.write(
                f"{call:8}{times:>20}{found.runs:6}{found.stopped:9}{found.never_begun:11}"
                f"{found.alarms:8}{found.acknowledged:6}{len(found.wrong):7}\n"
            )
            for wrong in found.wrong:
                sys.stdout.write(f"    {wrong}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
