"""What the commands that use the store share."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sqlalchemy import Engine

    from assistant.store.address import Address

HELP = (
    "postgresql://ROLE@HOST/DATABASE or sqlite:///FILE; else $GLOVESON_STORE, else store: in "
    "shop.yaml. A password is best kept in ~/.pgpass"
)


def add_store(command: argparse.ArgumentParser) -> None:
    """`--store ADDRESS`."""
    command.add_argument("--store", metavar="ADDRESS", help=HELP)


def address_of(given: str | None) -> Address:
    """The address that is meant.

    Raises:
        BadInput: there is none, or it isn't right.
    """
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - keeps `--help` fast
    from assistant.store.address import find_address  # noqa: PLC0415 - as above

    return find_address(given, jobs_home().parent)


@contextmanager
def opened(address: Address, *, set_up: bool = True) -> Iterator[Engine]:
    """The store, open, and what it says in plain words.

    Args:
        address: of the store.
        set_up: whether it must be set up already, for this version of the program.

    Raises:
        StoreUnavailable: it can't be reached, refuses, or isn't set up.
    """
    from assistant.store.address import in_plain_words  # noqa: PLC0415 - as above
    from assistant.store.setup import check_version  # noqa: PLC0415 - as above

    engine = address.open()
    try:
        with in_plain_words(address):
            if set_up:
                check_version(engine)
            yield engine
    finally:
        engine.dispose()
