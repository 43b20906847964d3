"""`gloveson record`: a readable account of a job."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from assistant.cli.output import ALL_RIGHT, answer, answer_json, answer_json_with


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "record",
        help="show a job's record",
        description="Shows what was done, by whom, with which readings.",
    )
    command.add_argument("job", metavar="JOB", help="job id or record folder")
    command.add_argument("--json", action="store_true", help="the account as JSON on stdout")
    for form, told in (("html", "a self-contained page"), ("pdf", "the page as PDF")):
        command.add_argument(
            f"--{form}", nargs="?", const="", metavar="FILE", help=f"{told}; JOB.{form} if left out"
        )
    command.add_argument(
        "--customer", action="store_true", help="with --html or --pdf: the customer's one page"
    )
    command.add_argument(
        "--spoken",
        nargs="?",
        const="",
        metavar="FOLDER",
        help="the job to be heard again: sound with captions, and a page that plays it; "
        "JOB-spoken if left out",
    )
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Replay the record and print the account."""
    from assistant.accounts import account_of, account_text, timeline_of  # noqa: PLC0415 - loads the core
    from assistant.record.folder import find_job  # noqa: PLC0415 - as above

    folder = find_job(given.job)
    account = account_of(folder)
    if given.spoken is not None:
        return _spoken(given, folder, account)
    if given.html is not None or given.pdf is not None:
        return _pages(given, account)
    if given.json:
        answer_json_with(account, "timeline", timeline_of(folder, account["entries"]))
    else:
        for line in account_text(account):
            answer(line)
    return ALL_RIGHT


def _pages(given: argparse.Namespace, account: dict[str, Any]) -> int:
    """Write the page in each form that was asked for."""
    from assistant import people  # noqa: PLC0415 - keeps `--help` fast
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above
    from assistant.report.page import page  # noqa: PLC0415 - as above
    from assistant.report.write import write_html, write_pdf  # noqa: PLC0415 - as above

    sheet = "customer" if given.customer else "record"
    html = page(account, sheet, people.load_shop(jobs_home().parent).shop)
    stem = f"{account['job']}-customer" if given.customer else str(account["job"])
    for form, write in (("html", write_html), ("pdf", write_pdf)):
        asked = getattr(given, form)
        if asked is not None:
            path = Path(asked or f"{stem}.{form}")
            write(html, path)
            answer(str(path))
    return ALL_RIGHT


def _spoken(given: argparse.Namespace, folder: Path, account: dict[str, Any]) -> int:
    """Write the spoken record and the page that plays it."""
    from assistant import people  # noqa: PLC0415 - keeps `--help` fast
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above
    from assistant.report.player import player_page  # noqa: PLC0415 - as above
    from assistant.report.spoken import make_spoken  # noqa: PLC0415 - as above
    from assistant.report.write import write_html  # noqa: PLC0415 - as above
    from assistant.speaking.renderer import Renderer  # noqa: PLC0415 - as above

    out = Path(given.spoken or f"{folder.name}-spoken")
    with Renderer() as voice:
        spoken = make_spoken(folder, out, voice)
    page = out / f"{folder.name}.html"
    write_html(player_page(account, spoken, people.load_shop(jobs_home().parent).shop), page)
    files = {
        "page": page,
        "sound": spoken.sound,
        "captions": spoken.captions,
        "chapters": spoken.chapters,
    }
    if given.json:
        figures = {"seconds": round(spoken.seconds, 3), "entries": len(spoken.placed)}
        answer_json({name: str(path) for name, path in files.items()} | figures)
    else:
        for path in files.values():
            answer(str(path))
    return ALL_RIGHT
