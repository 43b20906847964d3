"""`gloveson forward`: sends this bay's records to the store, or gets one back."""

from __future__ import annotations

import argparse
import time
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json, complain, tell
from assistant.cli.store_options import add_store, address_of, opened
from assistant.errors import BadInput, StoreUnavailable

if TYPE_CHECKING:
    from assistant.store.address import Address
    from assistant.store.forwarding import Forwarded

_PAUSE_S = 5.0
_LONGEST_PAUSE_S = 60.0


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "forward",
        help="send this bay's records to the store",
        description="Sends what the store does not have yet of this bay's records. It can be "
        "stopped and run again at any time: nothing is lost or stored twice. Records stay here.",
    )
    add_store(command)
    command.add_argument(
        "--bay",
        metavar="NAME",
        default="bay",
        help="this bay's name in a store that is a file; on a server it is the role",
    )
    what = command.add_mutually_exclusive_group()
    what.add_argument("--watch", action="store_true", help="go on until Ctrl-C")
    what.add_argument(
        "--fetch",
        nargs=2,
        metavar=("JOB", "FOLDER"),
        help="write a record from the store (JOB or BAY/JOB) into a new folder, and verify it",
    )
    command.add_argument("--json", action="store_true", help="what was done, as JSON on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Forward once, for as long as wanted, or fetch."""
    address = address_of(given.store)
    if given.fetch:
        return _fetch(address, *given.fetch)
    if given.watch:
        return watch(lambda: _once(address, given.bay), _wait)
    done = _once(address, given.bay)
    if given.json:
        answer_json(asdict(done))
        return NOT_ALL_RIGHT if done.problems else ALL_RIGHT
    return _told(done)


def watch(once: Callable[[], Forwarded], wait: Callable[[float], None]) -> int:
    """Forward again and again until Ctrl-C; while the store is away, ever more seldom.

    Args:
        once: one run.
        wait: for so many seconds; Ctrl-C may come out of it.

    Returns:
        The exit code: 1 when the last run was not all right.
    """
    code, pause, said = ALL_RIGHT, _PAUSE_S, ""
    tell("forwarding; Ctrl-C ends it")
    try:
        while True:
            try:
                done = once()
            except StoreUnavailable as error:
                code, pause = NOT_ALL_RIGHT, min(pause * 2, _LONGEST_PAUSE_S)
                if str(error) != said:
                    complain(f"{error}; the records stay here and go later")
                said = str(error)
            else:
                pause, problems = _PAUSE_S, str(done.problems)
                code = NOT_ALL_RIGHT if done.problems else ALL_RIGHT
                if done.entries or done.notes or problems != said:
                    _told(done)
                said = problems
            wait(pause)
    except KeyboardInterrupt:
        return code


def _wait(seconds: float) -> None:
    time.sleep(seconds)


def _once(address: Address, bay: str) -> Forwarded:
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - keeps `--help` fast
    from assistant.store.forwarding import forward  # noqa: PLC0415 - as above
    from assistant.store.receiving import who_am_i  # noqa: PLC0415 - as above

    with opened(address) as engine:
        return forward(engine, who_am_i(engine, bay), jobs_home())


def _told(done: Forwarded) -> int:
    for problem in done.problems:
        complain(f"job {problem.job}: {problem.reason}")
    notes = f", {done.notes} notes of clips removed" if done.notes else ""
    answer(f"{done.entries} entries of {done.jobs} jobs forwarded{notes}")
    return NOT_ALL_RIGHT if done.problems else ALL_RIGHT


def _fetch(address: Address, wanted: str, to: str) -> int:
    from assistant.record.audit import audit  # noqa: PLC0415 - as above
    from assistant.store.fetching import fetch, owner_of  # noqa: PLC0415 - as above

    folder = Path(to)
    if folder.exists() and any(folder.iterdir() if folder.is_dir() else (folder,)):
        raise BadInput(f"{folder} is there already; a record is fetched into a new folder")
    with opened(address) as engine:
        bay, job = owner_of(engine, wanted)
        got = fetch(engine, bay, job, folder)
    checked = audit(folder, job)
    if not checked.ok:
        complain(f"job {job} came, but does not verify: {checked.problem}")
        return NOT_ALL_RIGHT
    sealed = "sealed" if checked.seal else "not sealed"
    answer(f"{bay}/{job} in {folder}: {got.entries} entries and {got.files} files verify; {sealed}")
    return ALL_RIGHT
