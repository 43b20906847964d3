"""Stores for the tests: databases on the one real server, and files of SQLite."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import count
from pathlib import Path

import pytest
from sqlalchemy import Engine

from assistant.store.address import read_address
from assistant.store.setup import add_login, set_up
from tests.store.records import played
from tests.store.server import OWNER, Server

_NUMBERS = count(1)


@dataclass(frozen=True)
class Shop:
    """A database of its own on the server, set up, with the roles bay_1, bay_2 and office_1."""

    server: Server
    database: str

    def address(self, role: str = OWNER, password: str | None = None) -> str:
        """Its address for a role."""
        return self.server.address(self.database, role, password=password)

    def engine(self, role: str = OWNER) -> Engine:
        """The store, as this role."""
        return read_address(self.address(role)).open()

    def sql(self, *statements: str, role: str = OWNER) -> str:
        """Run statements by PostgreSQL's own client; raises CalledProcessError when refused."""
        return self.server.sql(*statements, database=self.database, role=role)


@pytest.fixture
def shop(server: Server) -> Shop:
    """A fresh store on the server."""
    made = Shop(server, f"shop_{next(_NUMBERS)}")
    server.sql(f"create database {made.database}")
    set_up(made.engine())
    there = made.sql("select rolname from pg_roles").split()
    for name, kind in (("bay_1", "bay"), ("bay_2", "bay"), ("office_1", "office")):
        if name not in there:
            add_login(made.engine(), name, "office" if kind == "office" else "bay", "")
    return made


@pytest.fixture(params=["sqlite", "postgresql"])
def store(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Engine]:
    """A fresh store of either kind, as bay_1 sees it."""
    if request.param == "sqlite":
        engine = read_address(f"sqlite:///{tmp_path}/store.sqlite").open()
        set_up(engine)
    else:
        engine = request.getfixturevalue("shop").engine("bay_1")
    yield engine
    engine.dispose()


@pytest.fixture(scope="session")
def one_job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A released job's record; copied before anything is changed in it."""
    return played(tmp_path_factory.mktemp("one") / "jobs", "one", "WREN 7", trouble=True)


@pytest.fixture
def jobs(one_job: Path, tmp_path: Path) -> Path:
    """A folder of jobs with that one in it."""
    folder = tmp_path / "jobs"
    shutil.copytree(one_job.parent, folder)
    return folder


@pytest.fixture
def office(store: Engine, request: pytest.FixtureRequest) -> Iterator[Engine]:
    """The same store, as the office sees it."""
    if store.dialect.name == "sqlite":
        yield store
    else:
        shop: Shop = request.getfixturevalue("shop")
        engine = shop.engine("office_1")
        yield engine
        engine.dispose()
