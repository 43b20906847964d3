"""`gloveson jobs`: finds jobs in all records of this shop."""

from __future__ import annotations

import argparse
import csv
import sys
from typing import Any

from assistant.cli.output import ALL_RIGHT, answer, answer_json, complain

_SHOWN = ("id", "began", "status", "checklist", "version", "vehicle")
_FORMULA = ("=", "+", "-", "@", "\t", "\r")


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "jobs",
        help="find jobs",
        description="Finds jobs by what is in their records. Everything given must hold; texts "
        "are found anywhere and in any case.",
    )
    for name, told in (
        ("vehicle", "plate, frame number or shop tag"),
        ("person", "who worked on it"),
        ("step", "a step that was done"),
        ("part", "name or number of a part that was fitted"),
        ("trouble", "kind or text of a trouble"),
        ("reading", "name of a reading"),
        ("since", "first day, 2026-03-01"),
        ("until", "last day"),
        ("checklist", "its id, or ID@VERSION"),
        ("status", "released, stopped or damaged"),
    ):
        command.add_argument(f"--{name}", metavar="TEXT", help=told)
    command.add_argument("--out-of-limits", action="store_true", help="a reading out of limits")
    form = command.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="the jobs as JSON on stdout")
    form.add_argument("--csv", action="store_true", help="the jobs as CSV on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Bring the index up to date, and search it."""
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - keeps `--help` fast
    from assistant.store.index import INDEX_FILE, open_index, refresh  # noqa: PLC0415 - as above
    from assistant.store.search import Wanted, find  # noqa: PLC0415 - as above

    jobs = jobs_home()
    jobs.mkdir(parents=True, exist_ok=True)
    engine = open_index(jobs.parent / INDEX_FILE)
    try:
        refreshed = refresh(engine, jobs)
        asked = {name: getattr(given, name) for name in Wanted.__slots__}
        found = find(engine, Wanted(**asked))
    finally:
        engine.dispose()
    if refreshed.damaged:
        complain(f"{refreshed.damaged} records do not verify: gloveson jobs --status damaged")
    if given.json:
        answer_json(found)
    elif given.csv:
        _csv(found)
    else:
        for row in found:
            answer("  ".join(_plain(str(row[name] or "-")) for name in _SHOWN))
        answer(f"{len(found)} jobs")
    return ALL_RIGHT


def _plain(text: str) -> str:
    """Without anything that a terminal would obey."""
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def _csv(rows: list[dict[str, Any]]) -> None:
    """Rows as CSV that no spreadsheet takes for a formula."""
    writer = csv.writer(sys.stdout)
    if rows:
        writer.writerow(rows[0])
    for row in rows:
        writer.writerow([_cell(value) for value in row.values()])


def _cell(value: object) -> str:
    text = "" if value is None else _plain(str(value))
    return f"'{text}" if text.startswith(_FORMULA) else text
