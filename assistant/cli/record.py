"""`gloveson record`: a readable account of a job."""

from __future__ import annotations

import argparse
from typing import Any

from assistant.cli.output import ALL_RIGHT, answer, answer_json


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "record",
        help="show a job's record",
        description="Shows what was done, by whom, with which readings.",
    )
    command.add_argument("job", metavar="JOB", help="job id or record folder")
    command.add_argument("--json", action="store_true", help="the account as JSON on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Replay the record and print the account."""
    from assistant.accounts import account_of, account_text  # noqa: PLC0415 - loads the core
    from assistant.record.folder import find_job  # noqa: PLC0415 - as above

    account = account_of(find_job(given.job))
    if given.json:
        answer_json(account)
    else:
        for line in account_text(account):
            answer(line)
    return ALL_RIGHT
