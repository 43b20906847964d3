"""`gloveson resume`: go on with a job after a pause, a crash or a shift change."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from assistant import people

if TYPE_CHECKING:
    from assistant.bay import Bay
    from assistant.job.events import Event


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    from assistant.cli import live_options  # noqa: PLC0415 - light: no audio library

    command = commands.add_parser(
        "resume",
        help="go on with a job",
        description="Takes a job up again from its record: nothing confirmed is lost, and what "
        "is open is confirmed again before the next step.",
    )
    command.add_argument("job", metavar="JOB", help="job id or record folder")
    command.add_argument("--who", metavar="NAME", help="who goes on; the same person if left out")
    live_options.add_to(command)
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Replay the record and go on."""
    from assistant.cli import live  # noqa: PLC0415 - loads the audio libraries
    from assistant.job.events import Resumed  # noqa: PLC0415 - as above
    from assistant.opening import changed_since, resume_job  # noqa: PLC0415 - as above
    from assistant.record.folder import find_job, jobs_home  # noqa: PLC0415 - as above

    shop = people.load_shop(jobs_home().parent)
    job = resume_job(find_job(given.job), clips=shop.clips and not given.no_clips)
    try:
        who = job.state.who
        if given.who:
            who = people.person_id(given.who)
            job.refuse_stranger(who)

        def first(bay: Bay) -> Event:
            return Resumed(bay.stamp(), who, changed_since(job.header))

        with live.gear_for(given, job.setting, job.words) as gear:
            return live.run_live(job, given, gear, first)
    finally:
        job.keeper.journal.close()
