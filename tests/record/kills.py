"""The whole program killed in the middle of a job, at instants and at system calls, then resumed.

    python -m tests.record.kills [--rows ROW,ROW] [--tries N] [--minutes M] [--log FILE]

Plays the shortest shipped checklist again and again, kills the program in each job once or several
times, goes on by `gloveson resume --typed` until the record is sealed, and audits it. Every job is
one line of the log; a run with the log of an earlier one adds to it. Prints the table of the log.
"""

from __future__ import annotations

import argparse
import json
import random
import tempfile
import time
from collections.abc import Iterator
from dataclasses import asdict, dataclass, field
from pathlib import Path

from tests.record.killed import Cut, Killed, calls_of_a_life, play, undisturbed

ROWS = {
    "instants": "at random instants of a typed job's whole life, starting up included",
    "typed": "within 20 ms after a reply was typed",
    "logged": "within 20 ms after the screen said that a confirmation is logged",
    "calls": "on entering the n-th system call of a typed job on its folder, n = 1, 2, ... to all",
    "resumed": "on entering a random system call of the resumed job on its folder",
    "rehearsal": "at random instants of a spoken rehearsal, then resumed with keys",
}
SOON_S = 0.02


@dataclass
class Plan:
    """What is needed to say when the next jobs are killed.

    Attributes:
        order: what an undisturbed job acknowledges, in its order.
        life_s: how long an undisturbed job takes, seconds.
        calls: (system call, its number) for every call of an undisturbed job on its folder.
    """

    order: list[str]
    life_s: float
    calls: list[tuple[str, int]] = field(default_factory=list)

    def cuts(self, row: str, number: int) -> list[Cut]:
        """How the program is killed in the number-th job of a row, life by life."""
        chance = random.Random(f"{row} {number}")  # noqa: S311 - instants, not secrets
        if row == "instants":
            return [Cut("instant", wait_s=chance.uniform(0.05, self.life_s)) for _ in range(4)]
        if row == "rehearsal":
            return [Cut("rehearsal", wait_s=chance.uniform(0.5, 4 * self.life_s))]
        if row == "calls":
            mixed = sorted(self.calls)  # so that a run that is cut short has some of everywhere
            random.Random(row).shuffle(mixed)  # noqa: S311 - an order, no secret
            call, when = mixed[number % len(mixed)]
            return [Cut("call", call=call, when=when)]
        if row == "resumed":
            most = {"openat": 5, "write": 12, "fsync": 12}
            calls = [
                Cut("call", call=call, when=chance.randrange(1, most[call]))
                for call in chance.choices(tuple(most), (1, 2, 2), k=8)
            ]
            return [Cut("typed", chance.randrange(3), chance.uniform(0, SOON_S)), *calls]
        return [Cut(row, chance.randrange(3), chance.uniform(0, SOON_S)) for _ in range(9)]


def _read(log: Path) -> list[Killed]:
    lines = log.read_text(encoding="utf-8").splitlines() if log.is_file() else []
    return [Killed(**json.loads(line)) for line in lines]


def _todo(rows: list[str], tries: int, kept: list[Killed], plan: Plan) -> Iterator[tuple[str, int]]:
    """(row, number of its next job), each row in turn, until all have their tries."""

    def kills(row: str) -> int:
        return sum(job.kills for job in kept if job.row == row)

    def over(row: str) -> bool:
        return kills(row) >= tries or (row == "calls" and numbers[row] >= len(plan.calls))

    numbers = {row: sum(job.row == row for job in kept) for row in rows}
    while left := [row for row in rows if not over(row)]:
        for row in left:
            yield row, numbers[row]
            numbers[row] += 1


def run(rows: list[str], tries: int, minutes: float, log: Path) -> list[Killed]:
    """Kill until every row has its tries or the time is over; returns all that the log has."""
    end = time.monotonic() + 60 * minutes
    kept = _read(log)
    with tempfile.TemporaryDirectory(prefix="gloves-on-kills-") as name:
        place = Path(name)
        order, life_s = undisturbed(place / "whole")
        plan = Plan(order, life_s)
        if "calls" in rows:
            plan.calls = calls_of_a_life(place / "traced", order)
        for row, number in _todo(rows, tries, kept, plan):
            if time.monotonic() > end:
                break
            job = play(Path(tempfile.mkdtemp(dir=place)), row, plan.cuts(row, number), order)
            kept.append(job)
            with log.open("a", encoding="utf-8") as file:
                file.write(json.dumps(asdict(job)) + "\n")
    return kept


def table(kept: list[Killed]) -> str:
    """The log as a Markdown table, then whatever went wrong, in words."""
    heads = ["killed", "kills", "before the job was open", "acknowledged", "lost", "doubled"]
    heads += ["jobs", "went on to released", "audits ok"]
    lines = [f"| {' | '.join(heads)} |", f"|---|{'---:|' * (len(heads) - 1)}"]
    for row, what in [*ROWS.items(), ("", "all")]:
        jobs = [job for job in kept if row in ("", job.row)]
        if not jobs:
            continue
        sums = [
            sum(getattr(job, name) for job in jobs)
            for name in ("kills", "not_begun", "acknowledged", "lost", "doubled")
        ]
        sums += [len(jobs), sum(job.released for job in jobs), sum(job.audit_ok for job in jobs)]
        lines.append(f"| {what} | {' | '.join(f'{n:,}' for n in sums)} |")
    wrong = [f"- {job.row}: {text}" for job in kept for text in job.wrong]
    return "\n".join([*lines, "", *wrong])


def main() -> None:
    """Run and print."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--rows", default=",".join(ROWS), help="which kinds of kill")
    parser.add_argument("--tries", type=int, default=50, help="kills in each row")
    parser.add_argument("--minutes", type=float, default=15.0, help="no new job after these")
    parser.add_argument("--log", type=Path, default=Path(tempfile.gettempdir()) / "kills.jsonl")
    given = parser.parse_args()
    rows = given.rows.split(",")
    if unknown := set(rows) - set(ROWS):
        parser.error(f"no such row: {', '.join(sorted(unknown))}; there are {', '.join(ROWS)}")
    print(table(run(rows, given.tries, given.minutes, given.log)))  # noqa: T201 - a script


if __name__ == "__main__":
    main()
