"""Setting up: by version, twice without harm, passwords never in the open."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import Engine, update
from sqlalchemy.exc import ProgrammingError

from assistant.errors import BadInput, StoreUnavailable
from assistant.store.address import in_plain_words, read_address
from assistant.store.forwarding import forward
from assistant.store.journals import STORE, VERSION
from assistant.store.receiving import last_of_all
from assistant.store.setup import add_login, check_version, set_up
from assistant.store.tables import ABOUT
from tests.store.conftest import Shop
from tests.store.server import Server


def owned(store: Engine, request: pytest.FixtureRequest) -> Engine:
    """The same store as its owner."""
    if store.dialect.name == "sqlite":
        return store
    shop: Shop = request.getfixturevalue("shop")
    return shop.engine()


def test_set_up_twice_is_harmless(
    store: Engine, jobs: Path, request: pytest.FixtureRequest
) -> None:
    """The second finds all done, and what was stored is still there."""
    forward(store, "bay_1", jobs)
    before = last_of_all(store, "bay_1")
    assert before
    assert set_up(owned(store, request)) == (VERSION, VERSION)
    assert last_of_all(store, "bay_1") == before


def test_an_index_of_another_layout_is_made_anew(
    store: Engine, jobs: Path, request: pytest.FixtureRequest
) -> None:
    """It holds nothing that the journals don't; they stay."""
    forward(store, "bay_1", jobs)
    owner = owned(store, request)
    with owner.begin() as connection:
        connection.execute(update(ABOUT).values(layout=0))
    set_up(owner)
    assert last_of_all(store, "bay_1")


def test_other_versions_are_told(store: Engine, request: pytest.FixtureRequest) -> None:
    """A newer store wants a newer program; nothing is changed in it."""
    owner = owned(store, request)
    with owner.begin() as connection:
        connection.execute(update(STORE).values(version=VERSION + 1))
    with pytest.raises(StoreUnavailable, match="update it"):
        check_version(store)
    with pytest.raises(BadInput, match="newer than this program"):
        set_up(owner)


def test_a_store_that_was_never_set_up_is_told(server: Server, tmp_path: Path) -> None:
    """With the command that does it."""
    server.sql("create database bare")
    for address in (server.address("bare"), f"sqlite:///{tmp_path}/bare.sqlite"):
        with pytest.raises(StoreUnavailable, match="store --set-up"):
            check_version(read_address(address).open())


def test_a_role_logs_in_by_its_password_which_no_log_has(shop: Shop, server: Server) -> None:
    """It is encrypted before it is sent: the server here logs every statement."""
    add_login(shop.engine(), "bay_with_password", "bay", "it's a % secret")
    inside = read_address(shop.address("bay_with_password", "it's a % secret")).open()
    assert last_of_all(inside, "bay_with_password") == {}
    assert "CREATE ROLE" in server.log()
    assert "a % secret" not in server.log()


def test_a_password_may_lie_in_its_own_file(
    shop: Shop, server: Server, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """PostgreSQL's password file, so that no address needs to hold one."""
    add_login(shop.engine(), "bay_with_file", "bay", "kept")
    file = tmp_path / "pgpass"
    file.write_text(f"127.0.0.1:{server.port}:{shop.database}:bay_with_file:kept\n")
    file.chmod(0o600)
    monkeypatch.setenv("PGPASSFILE", str(file))
    address = f"postgresql://bay_with_file@127.0.0.1:{server.port}/{shop.database}"
    assert last_of_all(read_address(address).open(), "bay_with_file") == {}


def test_an_owner_need_not_be_a_superuser(server: Server, jobs: Path) -> None:
    """A database of its own and the right to make roles are enough; without it, that is told."""
    server.sql(
        "create role plain_owner login createrole",
        "create role no_owner login",
        "create database plain owner plain_owner",
    )
    no_owner = read_address(server.address("plain", "no_owner"))
    with pytest.raises(StoreUnavailable, match="does not allow this"), in_plain_words(no_owner):
        set_up(no_owner.open())
    owner = read_address(server.address("plain", "plain_owner")).open()
    assert set_up(owner) == (0, VERSION)
    add_login(owner, "plain_bay", "bay", "")
    bay = read_address(server.address("plain", "plain_bay")).open()
    assert forward(bay, "plain_bay", jobs).jobs == 1
    with pytest.raises(ProgrammingError, match="already exists"):
        add_login(owner, "plain_bay", "bay", "")


def test_roles_are_for_servers_and_have_plain_names(shop: Shop, tmp_path: Path) -> None:
    """A name is no place for SQL."""
    for name in ('x"; drop schema gloveson; --', "Bay", "", "x" * 70):
        with pytest.raises(BadInput, match="can't be a role"):
            add_login(shop.engine(), name, "bay", "")
    with pytest.raises(BadInput, match="no roles"):
        add_login(read_address(f"sqlite:///{tmp_path}/s.sqlite").open(), "bay", "bay", "")
