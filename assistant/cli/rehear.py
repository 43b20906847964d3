"""`gloveson rehear`: the clips of archived jobs heard again with an engine."""

from __future__ import annotations

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.cli.live_options import ENGINE, ENGINES
from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json, complain, tell
from assistant.errors import BadInput

if TYPE_CHECKING:
    from assistant.rehearing.run import Report

_OUT = "rehear.jsonl"


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "rehear",
        help="hear the clips of archived jobs again with an engine",
        description="Hears the clips of recorded jobs again, each among the phrases that were "
        "admitted at its moment, and reports what would be heard differently now. Records are "
        "only read. It can be stopped and run again: what is in the results file is not heard "
        "twice. Needs the extra [archive].",
    )
    command.add_argument("jobs", nargs="*", metavar="JOB", help="id or folder; all jobs here")
    command.add_argument("--engine", default=ENGINE, help=ENGINES)
    command.add_argument(
        "--cluster",
        metavar="ADDRESS",
        help="a Dask scheduler (tcp://host:port) that you trust, whose workers have this program; "
        "processes on this machine if left out",
    )
    command.add_argument(
        "--processes", type=int, metavar="N", help="on this machine; one a core if left out"
    )
    command.add_argument(
        "--out",
        default=_OUT,
        metavar="FILE",
        help=f"results, one JSON object a line; goes on where it is there ({_OUT})",
    )
    command.add_argument("--json", action="store_true", help="the report as JSON on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Hear again, and report."""
    from assistant.record.folder import find_job, jobs_home  # noqa: PLC0415 - keeps `--help` fast
    from assistant.record.retaining import job_folders  # noqa: PLC0415 - as above

    processes = os.cpu_count() or 1 if given.processes is None else given.processes
    if processes < 1:
        raise BadInput(f"--processes {processes} is not possible: 1 or more")
    folders = [find_job(job) for job in given.jobs] or job_folders(jobs_home())
    try:
        from assistant.rehearing import run as hearing  # noqa: PLC0415 - loads Dask
    except ImportError as error:
        msg = f"`rehear` needs the extra [archive] ({error.name}): pip install gloves-on[archive]"
        raise BadInput(msg) from error
    from assistant.rehearing.ledger import Ledger  # noqa: PLC0415 - as above

    tools = hearing.what_with(given.engine)
    with Ledger(Path(given.out)) as ledger, hearing.workers(given.cluster, processes) as client:
        report = hearing.rehear(
            folders, given.engine, ledger, client, progress=_Progress(quiet=given.json)
        )
    if given.json:
        answer_json(_data(report, tools.engine, tools.model))
    else:
        _text(report, f"{tools.engine}: {tools.model}")
    return ALL_RIGHT if report.all_same else NOT_ALL_RIGHT


class _Progress:
    """Says now and then how far it has come."""

    def __init__(self, *, quiet: bool) -> None:
        self._quiet, self._heard, self._next = quiet, 0, 100

    def __call__(self, count: int) -> None:
        self._heard += count
        if not self._quiet and self._heard >= self._next:
            tell(f"{self._heard} clips heard again")
            self._next = self._heard + 100


def _data(report: Report, engine: str, model: str) -> dict[str, Any]:
    return {
        "engine": engine,
        "model": model,
        "clips": report.clips,
        "heard_now": report.fresh,
        "same": report.same,
        "not_heard_again": dict(sorted(report.left.items())),
        "safety_read_backs": report.safety,
        "differs": report.differs,
        "failed": report.failed,
    }


_WHY = {
    "removed": "sound removed by the shop's rule",
    "not_kept": "sound not kept",
    "free_speech": "free speech",
}


def _text(report: Report, what: str) -> None:
    for failed in report.failed:
        complain(f"job {failed['job']}: {failed['problem']}")
    for title, rows in (
        ("Safety read-backs heard differently", report.safety),
        ("Heard differently", report.differs),
    ):
        if rows:
            answer(f"{title}: {len(rows)}")
        for row in rows:
            then, now = (_made(row[which]) for which in ("then", "now"))
            answer(f"  {row['job']} entry {row['n']}: then {then}; now {now}")
    answer(f"{report.clips} clips with {what} ({report.fresh} heard now)")
    differ = f"{len(report.differs)} differ, {len(report.safety)} safety read-backs differ"
    answer(f"{report.same} the same, {differ}, {len(report.failed)} jobs failed")
    for why, count in sorted(report.left.items()):
        answer(f"not heard again, {_WHY[why]}: {count}")


def _made(made: dict[str, Any]) -> str:
    intent = f", {made['intent']}" if made["intent"] else ""
    slots = "".join(f" {name}={value}" for name, value in made["slots"])
    why = f" ({made['why']})" if made.get("why") else ""
    return f'"{made["text"]}"{intent}{slots}, {made["verdict"]}{why}'
