"""`gloveson jobs`: finds jobs in all records of this shop."""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.cli.output import ALL_RIGHT, answer, answer_json, complain, tell
from assistant.cli.store_options import HELP, address_of, opened
from assistant.errors import BadInput

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from assistant.store.index import Refreshed
    from assistant.store.search import Wanted

    Search = Callable[[Engine], list[dict[str, Any]]]

_LONGEST_CELL = 80
_TOLD_S = 2.0
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
        ("wrench", "name of a torque wrench that was used"),
    ):
        command.add_argument(f"--{name}", metavar="TEXT", help=told)
    command.add_argument("--out-of-limits", action="store_true", help="a reading out of limits")
    command.add_argument(
        "--old-checklist",
        action="store_true",
        help="run under a text of the checklist that is not the one in its file now",
    )
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

    for text in vars(given).values():
        if isinstance(text, str) and not text.isprintable():
            raise BadInput(f"{text!a} can't be looked for: it holds signs that are no text")
    wanted = Wanted(**{name: getattr(given, name) for name in Wanted.__slots__ if name in given})
    progress = _Progress()
    search = partial(_here, progress)
    if given.store is not None:
        search = partial(_store, given.store, progress)
    refreshed, found = search(partial(_found, wanted, old=given.old_checklist))
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
            answer("  ".join(_cell(plain(str(row[name] or "-"))) for name in _SHOWN))
        answer(f"{len(found)} jobs")
    return ALL_RIGHT


def _cell(text: str) -> str:
    """A text among others in a line."""
    return text if len(text) <= _LONGEST_CELL else f"{text[: _LONGEST_CELL - 1]}…"


def _found(wanted: Wanted, engine: Engine, *, old: bool) -> list[dict[str, Any]]:
    """What is wanted in this index."""
    from assistant.store.export import plain  # noqa: PLC0415 - as above
    from assistant.store.search import find  # noqa: PLC0415 - as above
    from assistant.store.versions import superseded  # noqa: PLC0415 - as above

    if old:
        runs, unknown = superseded(engine)
        for name in sorted(unknown):
            complain(
                f"checklist {plain(name)}: its file can't be read now, so its jobs can't be told"
            )
        wanted = replace(wanted, runs=runs)
    return find(engine, wanted)


class _Progress:
    """Says now and then how many jobs were read into the index; nothing where that is quick."""

    def __init__(self) -> None:
        self._next = time.monotonic() + _TOLD_S

    def __call__(self, done: int, of_all: int) -> None:
        if time.monotonic() >= self._next:
            tell(f"{done} of {of_all} new or changed jobs read")
            self._next = time.monotonic() + _TOLD_S


def _here(progress: _Progress, find: Search) -> tuple[Refreshed, list[dict[str, Any]]]:
    """In the jobs of this machine."""
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - keeps `--help` fast
    from assistant.store.index import INDEX_FILE, open_index, refresh  # noqa: PLC0415 - as above

    jobs = jobs_home()
    jobs.mkdir(parents=True, exist_ok=True)
    engine = open_index(jobs.parent / INDEX_FILE)
    try:
        return refresh(engine, jobs, progress=progress), find(engine)
    finally:
        engine.dispose()


def _store(given: str, progress: _Progress, find: Search) -> tuple[Refreshed, list[dict[str, Any]]]:
    """In the jobs of all bays; they are found as BAY/JOB."""
    from assistant.store.central import refresh_store  # noqa: PLC0415 - as above

    with opened(address_of(given)) as engine:
        return refresh_store(engine, progress), find(engine)
