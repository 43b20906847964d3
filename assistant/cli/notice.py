"""`gloveson notice`: a notice to show in the shop."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import Any

from assistant.cli.output import ALL_RIGHT, answer


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "notice",
        help="a notice to show in the shop: what is recorded, and how long",
        description="Prints what this shop records, what for, how long, and how to have it "
        "removed, from the shop's own file: clips, clip_days, notice (whom to ask).",
    )
    command.add_argument("--html", metavar="FILE", type=Path, help="write a page to print")
    command.add_argument("--language", default="en", metavar="LANGUAGE", help="of the notice")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Print or write the notice."""
    from assistant import people  # noqa: PLC0415 - keeps `--help` fast
    from assistant.accounts import plain  # noqa: PLC0415 - as above
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above
    from assistant.report.notice import (  # noqa: PLC0415 - as above
        Keeping,
        notice_lines,
        notice_of,
        notice_page,
    )
    from assistant.report.write import write_html  # noqa: PLC0415 - as above

    shop = people.load_shop(jobs_home().parent)
    keeping = Keeping(shop.clips, shop.clip_days, shop.store is not None, shop.notice)
    day = datetime.now().astimezone().date().isoformat()
    notice = notice_of(keeping, day, given.language)
    if given.html is not None:
        write_html(notice_page(notice, shop.shop, given.language), given.html)
        answer(str(given.html))
        return ALL_RIGHT
    for line in notice_lines(notice, shop.shop):
        answer(plain(line))
    return ALL_RIGHT
