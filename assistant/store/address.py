"""Where the store is: an address, checked before anything is opened, and never shown whole."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final

from sqlalchemy import URL, Engine, NullPool, create_engine, event, make_url
from sqlalchemy.exc import (
    ArgumentError,
    DBAPIError,
    InterfaceError,
    OperationalError,
    SQLAlchemyError,
)

from assistant.errors import BadInput, StoreUnavailable
from assistant.people import load_shop
from assistant.store.journals import SCHEMA

VARIABLE: Final = "GLOVESON_STORE"
REACH_S: Final = 5
"""How long a server that doesn't answer is waited for, seconds."""
_SAMPLE: Final = "postgresql://bay_1@office.lan/wrenlane or sqlite:////srv/store.sqlite"
_SERVER: Final = {"postgres", "postgresql", "postgresql+psycopg"}
# What may follow the "?"; a password there could not be told from the rest, so it is refused.
_QUERY: Final = {"host", "port", "service", "passfile", "sslmode", "sslrootcert", "sslcert",
                 "sslkey", "application_name", "channel_binding"}  # fmt: skip
_FORBIDDEN: Final = "42501"  # SQLSTATE insufficient_privilege


@dataclass(frozen=True, slots=True)
class Address:
    """A checked address; its text never holds the password.

    Attributes:
        shown: the address as messages may show it.
        server: whether it is a PostgreSQL server; else a file of SQLite.
    """

    shown: str
    server: bool
    _url: URL = field(repr=False)

    def __str__(self) -> str:
        return self.shown

    def open(self) -> Engine:
        """An engine whose messages show no values; each transaction has a connection of its own.

        Raises:
            BadInput: the driver for PostgreSQL is not installed.
        """
        if not self.server:
            return _file(self._url)
        if find_spec("psycopg") is None:
            msg = (
                "the store on PostgreSQL needs the extra part [shops]: pip install gloves-on[shops]"
            )
            raise BadInput(msg)
        waits = {"connect_timeout": REACH_S, "keepalives_idle": 10, "tcp_user_timeout": 20_000}
        engine = create_engine(
            self._url, poolclass=NullPool, hide_parameters=True, connect_args=waits
        )
        return engine.execution_options(schema_translate_map={None: SCHEMA})


def read_address(text: str) -> Address:
    """Check an address.

    Raises:
        BadInput: it isn't one; the message doesn't repeat it, since it may hold a password.
    """
    try:
        url = make_url(text.strip())
        shown = url.render_as_string(hide_password=True)
    except (ArgumentError, ValueError):
        raise BadInput(f"the store's address is not one; it should be like {_SAMPLE}") from None
    if url.drivername == "sqlite":
        return Address(shown, False, _checked_file(url))
    if url.drivername not in _SERVER:
        kind = url.drivername if url.drivername.isidentifier() else "this kind"
        raise BadInput(f"the store can't be on {kind}; its address should be like {_SAMPLE}")
    odd = sorted(url.query.keys() - _QUERY)
    if odd:
        hint = "; a password goes into ~/.pgpass" if "password" in odd else ""
        known = ", ".join(sorted(_QUERY))
        raise BadInput(f"the store's address can't hold {odd[0]!r} after the ?; only {known}{hint}")
    if not url.database and "service" not in url.query:
        raise BadInput(f"the store's address names no database; it should be like {_SAMPLE}")
    return Address(shown, True, url.set(drivername="postgresql+psycopg"))


def _checked_file(url: URL) -> URL:
    if not url.database or url.database == ":memory:" or url.query or url.host:
        raise BadInput("the store's address names no file; it should be like sqlite:////srv/store")
    if not Path(url.database).absolute().parent.is_dir():
        folder = Path(url.database).absolute().parent
        raise BadInput(f"the store can't be in {folder}: there is no such folder")
    return url


def find_address(given: str | None, home: Path) -> Address:
    """The address given, else $GLOVESON_STORE, else `store:` in the shop's file.

    Args:
        given: from the command line; None or empty if not given there.
        home: folder of the shop's file.

    Raises:
        BadInput: there is none, or it isn't right.
    """
    if given:
        return read_address(given)
    from_environment = os.environ.get(VARIABLE, "").strip()
    if from_environment:
        return read_address(from_environment)
    written = load_shop(home).store
    if written is not None:
        return read_address(written.get_secret_value())
    msg = f"no store is named: give --store ADDRESS, set {VARIABLE}, or write store: in shop.yaml"
    raise BadInput(f"{msg}; an address is like {_SAMPLE}")


@contextmanager
def in_plain_words(address: Address) -> Iterator[None]:
    """Turn what the database says into a message for people.

    Raises:
        StoreUnavailable: the store can't be reached, or refuses.
    """
    try:
        yield
    except DBAPIError as error:
        said = (str(error.orig).strip() or type(error.orig).__name__).splitlines()[0]
        said = "".join(sign if sign.isprintable() else "?" for sign in said)
        if getattr(error.orig, "sqlstate", None) == _FORBIDDEN:
            raise StoreUnavailable(f"the store {address} does not allow this: {said}") from error
        away = isinstance(error, OperationalError | InterfaceError)
        why = "can't be used now" if away else "refuses"
        raise StoreUnavailable(f"the store {address} {why}: {said}") from error
    except SQLAlchemyError as error:
        raise StoreUnavailable(f"the store {address}: {type(error).__name__}") from error


def _file(url: URL) -> Engine:
    engine = create_engine(url, poolclass=NullPool, hide_parameters=True)

    @event.listens_for(engine, "connect")
    def _begin(connection: sqlite3.Connection, _record: object) -> None:
        connection.isolation_level = None  # transactions begin where we say
        connection.execute("PRAGMA foreign_keys = ON")

    @event.listens_for(engine, "begin")
    def _lock(connection: Any) -> None:  # noqa: ANN401 - the library's own
        connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine
