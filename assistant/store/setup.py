"""Setting up a store: its tables by numbered migrations, and on PostgreSQL its roles and guards."""

from __future__ import annotations

import re
from collections.abc import Callable
from importlib.resources import files
from typing import Any, Final, Literal

from sqlalchemy import Connection, Engine, delete, insert, inspect, select, text

from assistant.errors import BadInput, StoreUnavailable
from assistant.store.journals import ENTRY, FILE, JOURNALS, NOTE, REFUSED, SCHEMA, STORE, VERSION
from assistant.store.tables import ABOUT, LAYOUT, METADATA

Kind = Literal["bay", "office"]
_ROLE: Final = re.compile(r"[a-z][a-z0-9_]{0,61}")
_INDEX_RIGHTS: Final = "SELECT, INSERT, DELETE"


def set_up(engine: Engine) -> tuple[int, int]:
    """Bring a store to this program's version, in one transaction; harmless where it is already.

    Returns:
        The store's version before (0: it was not there) and after.

    Raises:
        BadInput: the store is of a newer program.
        sqlalchemy.exc.DBAPIError: the database refuses.
    """
    with engine.begin() as connection:
        if _server(connection):
            _alone(connection)
            connection.execute(text(f"CREATE SCHEMA IF NOT EXISTS {SCHEMA}"))
        before = version_of(connection) or 0
        if before > VERSION:
            raise BadInput(_newer(before))
        for migration in _MIGRATIONS[before:]:
            migration(connection)
        if before < VERSION:
            connection.execute(delete(STORE))
            connection.execute(insert(STORE).values(version=VERSION))
        _index(connection)
    return before, VERSION


def version_of(connection: Connection) -> int | None:
    """The version of the store, None when it was never set up."""
    schema = SCHEMA if _server(connection) else None
    if not inspect(connection).has_table(STORE.name, schema):
        return None
    return connection.execute(select(STORE.c.version)).scalar()


def check_version(engine: Engine) -> None:
    """See that the store is of this program's version.

    Raises:
        StoreUnavailable: it isn't, or was never set up; says what to do.
    """
    with engine.connect() as connection:
        found = version_of(connection)
    if found is None:
        raise StoreUnavailable(
            "the store is not set up yet; its owner runs: gloveson store --set-up"
        )
    if found > VERSION:
        raise StoreUnavailable(_newer(found))
    if found < VERSION:
        msg = f"the store has version {found}, and this program needs {VERSION}"
        raise StoreUnavailable(f"{msg}; its owner runs: gloveson store --set-up")


def add_login(engine: Engine, name: str, kind: Kind, password: str) -> None:
    """Make a role that a bay, or the office, logs in as.

    Args:
        engine: the store, as its owner.
        name: of the role: small letters, digits, underscores. A bay's rows are kept under it.
        kind: what it may do.
        password: encrypted here before it is sent, so that no server log has it; without one,
            the server must let the role in by other means (a certificate, a socket's peer).

    Raises:
        BadInput: a name that can't be a role's, or the store is no server.
        sqlalchemy.exc.DBAPIError: the database refuses, for example because there is such a role.
    """
    if _ROLE.fullmatch(name) is None:
        raise BadInput(f"{name!r} can't be a role: use small letters, digits and underscores")
    with engine.begin() as connection:
        if not _server(connection):
            raise BadInput("a store in a file has no roles; they are for a PostgreSQL server")
        quoted = connection.dialect.identifier_preparer.quote_identifier(name)
        connection.execute(text(f"CREATE ROLE {quoted} LOGIN IN ROLE gloveson_{kind}"))
        if password:
            driver: Any = connection.connection.driver_connection
            secret = driver.pgconn.encrypt_password(
                password.encode(), name.encode(), b"scram-sha-256"
            ).decode()
            literal = secret.replace("'", "''")
            connection.exec_driver_sql(f"ALTER ROLE {quoted} PASSWORD '{literal}'")


def _newer(found: int) -> str:
    return f"the store has version {found}, which is newer than this program ({VERSION}); update it"


def _server(connection: Connection) -> bool:
    return connection.dialect.name == "postgresql"


def _alone(connection: Connection) -> None:
    """One set-up at a time: a second waits for the first and then finds all done."""
    connection.execute(text("SELECT pg_advisory_xact_lock(hashtextextended('gloveson set-up', 0))"))


def _first(connection: Connection) -> None:
    JOURNALS.create_all(connection, tables=[STORE, ENTRY, FILE, REFUSED])
    _guard(connection, "guards.sql")


def _second(connection: Connection) -> None:
    JOURNALS.create_all(connection, tables=[NOTE])
    _guard(connection, "notes.sql")


def _guard(connection: Connection, name: str) -> None:
    if _server(connection):
        guards = files("assistant") / "store" / "data" / name
        connection.exec_driver_sql(guards.read_text(encoding="utf-8").replace("%", "%%"))


_MIGRATIONS: Final[tuple[Callable[[Connection], None], ...]] = (_first, _second)
"""Number n brings a store from version n to n + 1; one that has run anywhere is never changed."""


def _index(connection: Connection) -> None:
    """The index's tables: of another layout they are made anew, since the journals hold it all."""
    METADATA.create_all(connection, tables=[ABOUT])
    if connection.execute(select(ABOUT.c.layout)).scalar() == LAYOUT:
        return
    METADATA.drop_all(connection)
    METADATA.create_all(connection)
    connection.execute(insert(ABOUT).values(layout=LAYOUT))
    if _server(connection):
        names = ", ".join(f"{SCHEMA}.{table.name}" for table in METADATA.sorted_tables)
        connection.execute(text(f"GRANT {_INDEX_RIGHTS} ON {names} TO gloveson_office"))
        connection.execute(text(f"REVOKE INSERT, DELETE ON {SCHEMA}.about FROM gloveson_office"))
        connection.execute(
            text(f"GRANT USAGE ON ALL SEQUENCES IN SCHEMA {SCHEMA} TO gloveson_office")
        )
