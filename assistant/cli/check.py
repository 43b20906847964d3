"""`gloveson check`: validates and proves checklists."""

from __future__ import annotations

import argparse
from typing import Any

from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "check",
        help="validate and prove a checklist",
        description="Checks checklists: shape, sense, what the voice can say, and the proof that "
        "no path passes a hazard without its safety stop.",
    )
    command.add_argument("checklists", nargs="+", metavar="CHECKLIST", help="file or id")
    how = command.add_mutually_exclusive_group()
    how.add_argument("--json", action="store_true", help="the findings as JSON on stdout")
    how.add_argument(
        "--watch",
        action="store_true",
        help="check again whenever a file or a shared section is saved, until Ctrl-C",
    )
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Check and print every finding with its line; with --watch over and over."""
    if not given.watch:
        return _check(given)
    from assistant.cli import watching  # noqa: PLC0415 - only this needs it

    return watching.watch(lambda: _check(given), lambda: watching.files_of(given.checklists))


def _check(given: argparse.Namespace) -> int:
    from assistant.checking import check_all, check_phrases, check_shop  # noqa: PLC0415 - loads the whole core
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above

    checked = check_all(given.checklists)
    home = jobs_home().parent
    checked += [found for found in (check_shop(home), check_phrases(home)) if found is not None]
    if given.json:
        answer_json([one.as_json() for one in checked])
    else:
        for one in checked:
            for finding in one.findings:
                answer(str(finding))
                for step in finding.path:
                    answer(f"    {step}")
            errors = sum(finding.level == "error" for finding in one.findings)
            verdict = "ok" if one.ok else f"{errors} error{'s' if errors > 1 else ''}"
            answer(
                f"{one.file}: {verdict}; {one.steps} steps, {one.paths} paths proved, "
                f"{one.states} states explored"
            )
    return ALL_RIGHT if all(one.ok for one in checked) else NOT_ALL_RIGHT
