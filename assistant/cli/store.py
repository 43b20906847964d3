"""`gloveson store`: sets up the store of many bays, and says what is in it."""

from __future__ import annotations

import argparse
import getpass
import sys
from dataclasses import asdict
from typing import Any

from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json, complain
from assistant.cli.store_options import add_store, address_of, opened
from assistant.errors import BadInput


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "store",
        help="the store of many bays",
        description="Sets up the store that bays forward their records to, and makes the roles "
        "that they log in as. Without an option it says what the store holds.",
    )
    add_store(command)
    what = command.add_mutually_exclusive_group()
    what.add_argument(
        "--set-up", action="store_true", help="make or update its tables and rules, as its owner"
    )
    what.add_argument("--add-bay", metavar="ROLE", help="make a role that a bay logs in as")
    what.add_argument("--add-office", metavar="ROLE", help="make a role that may read all")
    what.add_argument(
        "--rebuild", action="store_true", help="build its index anew from its journals"
    )
    what.add_argument(
        "--remove-clips",
        action="store_true",
        help="remove the clips that bays' notes say were removed, as the office",
    )
    command.add_argument("--json", action="store_true", help="what it holds, as JSON on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Do the one thing asked for."""
    if given.set_up:
        return _set_up(given)
    if given.add_bay or given.add_office:
        return _add(given)
    if given.remove_clips:
        return _remove(given)
    return _rebuild(given) if given.rebuild else _tell(given)


def _remove(given: argparse.Namespace) -> int:
    from assistant.store.notes import drop_clips  # noqa: PLC0415 - as above

    with opened(address_of(given.store)) as engine:
        done = drop_clips(engine)
    wrong = [one for one in done if one.problem]
    if given.json:
        answer_json([asdict(one) for one in done])
    else:
        for one in wrong:
            complain(f"{one.bay}/{one.job}: {one.problem}")
        total = sum(one.removed for one in done)
        answer(f"{total} clips removed from {len(done) - len(wrong)} jobs in the store")
    return NOT_ALL_RIGHT if wrong else ALL_RIGHT


def _set_up(given: argparse.Namespace) -> int:
    from assistant.store.setup import set_up  # noqa: PLC0415 - keeps `--help` fast

    address = address_of(given.store)
    with opened(address, set_up=False) as engine:
        before, after = set_up(engine)
    if before == after:
        answer(f"the store {address} has version {after} already")
    else:
        answer(f"the store {address} is set up: version {after}, before {before or 'none'}")
    return ALL_RIGHT


def _add(given: argparse.Namespace) -> int:
    from assistant.store.setup import add_login  # noqa: PLC0415 - as above

    address = address_of(given.store)
    if not address.server:
        raise BadInput("a store in a file has no roles; they are for a PostgreSQL server")
    name = given.add_bay or given.add_office
    with opened(address) as engine:
        add_login(engine, name, "bay" if given.add_bay else "office", _password(name))
    answer(f"{name} may log in as {'a bay' if given.add_bay else 'the office'}")
    return ALL_RIGHT


def _password(name: str) -> str:
    """The new role's password: typed without being shown, or the first line of a pipe."""
    if sys.stdin.isatty():
        return getpass.getpass(f"password for {name} (empty for none): ")
    return sys.stdin.readline().rstrip("\r\n")


def _rebuild(given: argparse.Namespace) -> int:
    from assistant.store.central import forget_index, refresh_store  # noqa: PLC0415 - as above

    with opened(address_of(given.store)) as engine:
        forget_index(engine)
        done = refresh_store(engine)
    answer(f"{done.read} jobs read, {done.damaged} do not verify")
    return ALL_RIGHT


def _tell(given: argparse.Namespace) -> int:
    from assistant.store.holdings import holdings  # noqa: PLC0415 - as above

    address = address_of(given.store)
    with opened(address) as engine:
        held = holdings(engine)
    if given.json:
        answer_json([{name: getattr(row, name) for name in row.__slots__} for row in held])
        return ALL_RIGHT
    for row in held:
        answer(
            f"{row.bay}: {row.jobs} jobs, {row.entries} entries, {row.files} files, "
            f"{row.refused} refused; last received {row.received}"
        )
    answer(f"{len(held)} bays in {address}")
    return ALL_RIGHT
