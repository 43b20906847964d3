"""`gloveson jobs`: finds jobs in all records of this shop."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.cli.output import ALL_RIGHT, answer, answer_json, complain
from assistant.cli.store_options import HELP, address_of, opened

if TYPE_CHECKING:
    from assistant.store.index import Refreshed
    from assistant.store.search import Wanted

_SHOWN = ("id", "began", "status", "checklist", "version", "vehicle")


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
    form.add_argument("--parquet", type=Path, metavar="FILE", help="the jobs as a Parquet file")
    command.add_argument(
        "--store",
        nargs="?",
        const="",
        metavar="ADDRESS",
        help=f"the jobs of all bays, in the store: {HELP}",
    )
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Bring the index up to date, and search it."""
    from assistant.store.export import plain, write_csv, write_parquet  # noqa: PLC0415 - for --help
    from assistant.store.search import Wanted  # noqa: PLC0415 - as above

    wanted = Wanted(**{name: getattr(given, name) for name in Wanted.__slots__})
    refreshed, found = _here(wanted) if given.store is None else _store(given.store, wanted)
    if refreshed.damaged:
        where = "" if given.store is None else " --store"
        asked = f"gloveson jobs{where} --status damaged"
        complain(f"{refreshed.damaged} records do not verify: {asked}")
    if given.json:
        answer_json(found)
    elif given.csv:
        write_csv(found, sys.stdout)
    elif given.parquet:
        write_parquet(found, given.parquet)
        answer(f"{len(found)} jobs in {given.parquet}")
    else:
        for row in found:
            answer("  ".join(plain(str(row[name] or "-")) for name in _SHOWN))
        answer(f"{len(found)} jobs")
    return ALL_RIGHT


def _here(wanted: Wanted) -> tuple[Refreshed, list[dict[str, Any]]]:
    """In the jobs of this machine."""
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - keeps `--help` fast
    from assistant.store.index import INDEX_FILE, open_index, refresh  # noqa: PLC0415 - as above
    from assistant.store.search import find  # noqa: PLC0415 - as above

    jobs = jobs_home()
    jobs.mkdir(parents=True, exist_ok=True)
    engine = open_index(jobs.parent / INDEX_FILE)
    try:
        return refresh(engine, jobs), find(engine, wanted)
    finally:
        engine.dispose()


def _store(given: str, wanted: Wanted) -> tuple[Refreshed, list[dict[str, Any]]]:
    """In the jobs of all bays; they are found as BAY/JOB."""
    from assistant.store.central import refresh_store  # noqa: PLC0415 - as above
    from assistant.store.search import find  # noqa: PLC0415 - as above

    with opened(address_of(given)) as engine:
        return refresh_store(engine), find(engine, wanted)
