"""`gloveson retain`: replies' sound is removed when its days are over."""

from __future__ import annotations

import argparse
from dataclasses import asdict
from typing import Any

from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json, complain
from assistant.errors import BadInput, JobInUse, JournalUnwritable, RecordDamaged


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "retain",
        help="remove replies' sound when its days are over",
        description="Removes the clips of sealed jobs that are older than so many days, and puts "
        "a note beside each record that says what was removed, when and by which rule. Text, "
        "readings and the chain stay, and the audit goes on. The shop's store learns of it by "
        "`gloveson forward`, and removes its copies by `gloveson store --remove-clips`. Backups "
        "are not touched.",
    )
    command.add_argument("jobs", nargs="*", metavar="JOB", help="id or folder; all jobs here")
    command.add_argument(
        "--days",
        type=int,
        metavar="N",
        help="days after the seal; 0 now; clip_days of shop.yaml if left out",
    )
    command.add_argument("--json", action="store_true", help="the result as JSON on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Remove, and say what became of each job."""
    from assistant import people  # noqa: PLC0415 - keeps `--help` fast
    from assistant.record.folder import find_job, jobs_home  # noqa: PLC0415 - as above
    from assistant.record.journal import now  # noqa: PLC0415 - as above
    from assistant.record.retaining import job_folders, retain  # noqa: PLC0415 - as above
    from assistant.record.signing import ShopKey  # noqa: PLC0415 - as above

    home = jobs_home().parent
    days = given.days if given.days is not None else people.load_shop(home).clip_days
    if days is None:
        msg = "after how many days? Give --days N, or clip_days in shop.yaml"
        raise BadInput(msg)
    if not 0 <= days <= people.MOST_DAYS:
        msg = f"--days {days} is not possible: 0 to {people.MOST_DAYS} are"
        raise BadInput(msg)
    folders = [find_job(job) for job in given.jobs] or job_folders(jobs_home())
    key, moment = ShopKey.load(home), now()
    done, failed = [], []
    for folder in folders:
        try:
            done.append(retain(folder, days, moment, key))
        except (JobInUse, JournalUnwritable, RecordDamaged) as problem:
            failed.append({"job": folder.name, "problem": str(problem)})
            complain(str(problem))
    if given.json:
        answer_json({"days": days, "jobs": [asdict(one) for one in done], "failed": failed})
    else:
        for one in done:
            answer(f"{one.job}: {one.why_not or f'{one.removed} clips removed'}")
        total = sum(one.removed for one in done)
        answer(f"{total} clips removed from {len(done)} jobs; rule: {days} days after the seal")
    return NOT_ALL_RIGHT if failed else ALL_RIGHT
