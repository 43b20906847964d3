"""What a bay, a record or a store might try; names as attacks."""

from __future__ import annotations

import hashlib
import threading
from pathlib import Path

import pytest
from sqlalchemy import Engine, insert

from assistant.errors import BadInput, StoreRefused
from assistant.record.entry import genesis, make_entry
from assistant.record.folder import JOURNAL
from assistant.store import address
from assistant.store.address import read_address
from assistant.store.central import refresh_store
from assistant.store.fetching import fetch, owner_of
from assistant.store.forwarding import Forwarded, forward
from assistant.store.index import Refreshed
from assistant.store.journals import ENTRY, FILE
from assistant.store.outbox import Batch
from assistant.store.receiving import last_of_all, take, who_am_i
from assistant.store.search import Wanted, find
from assistant.store.setup import set_up
from tests.store.conftest import Shop
from tests.store.test_guards import entry, put, refusal

WALL = "2026-03-02T10:00:00.000Z"


@pytest.fixture
def file_store(tmp_path: Path) -> Engine:
    """A store in a file, which anybody who can write the file can spoil."""
    engine = read_address(f"sqlite:///{tmp_path}/store.sqlite").open()
    set_up(engine)
    return engine


def put_file(store: Engine, name: str, content: bytes, sha256: str | None = None) -> None:
    """A file of job "one" in a store, past all checks."""
    digest = sha256 or hashlib.sha256(content).hexdigest()
    with store.begin() as connection:
        row = {"bay": "bay_1", "job": "one", "name": name, "sha256": digest}
        connection.execute(insert(FILE).values(**row, content=content))


@pytest.mark.parametrize(
    "name", ["../out", "/etc/out", "clips/../../out", "journal.jsonl", "clips"]
)
def test_a_store_cannot_write_outside_a_record(
    file_store: Engine, jobs: Path, tmp_path: Path, name: str
) -> None:
    """Names that entries can't cover are refused before anything of them is written."""
    forward(file_store, "bay_1", jobs)
    put_file(file_store, name, b"x")
    with pytest.raises(BadInput, match="can't be part of a record"):
        fetch(file_store, "bay_1", "one", tmp_path / "inner" / "back")
    assert not (tmp_path / "inner" / "out").exists()
    assert not (tmp_path / "inner" / "back" / "out").exists()


def test_a_spoiled_file_in_the_store_is_told(
    file_store: Engine, jobs: Path, tmp_path: Path
) -> None:
    """Its bytes no longer fit the hash."""
    forward(file_store, "bay_1", jobs)
    put_file(file_store, "clips/000001.flac", b"x", "0" * 64)
    with pytest.raises(BadInput, match="does not match its hash"):
        fetch(file_store, "bay_1", "one", tmp_path / "back")


def test_one_bad_job_hides_no_other(file_store: Engine, jobs: Path, tmp_path: Path) -> None:
    """A job with a name that climbs out of its folder is in the index as damaged."""
    forward(file_store, "bay_1", jobs)
    climbing = f"../../../..{tmp_path}/out"
    first = make_entry(0, "said", {}, wall=WALL, mono=1.0, prev=genesis(climbing))
    with file_store.begin() as connection:
        row = {"bay": "bay_1", "job": climbing, "n": 0, "hash": first.hash, "prev": first.prev}
        connection.execute(insert(ENTRY).values(**row, kind=first.kind, line=first.line()))
    assert refresh_store(file_store) == Refreshed(2, 0, 1)
    assert [row["id"] for row in find(file_store, Wanted(status="released"))] == ["bay_1/one"]
    assert not (tmp_path / "out").exists()


def test_the_server_takes_no_such_names(shop: Shop) -> None:
    """Its tables hold only what could be a record's."""
    climbing = make_entry(0, "said", {}, wall=WALL, mono=1.0, prev=genesis("../x"))
    assert "entry_job" in refusal(shop, put(climbing, job="../x"))
    for name in ("../out", "/etc/out", "clips/../../out", "clips/.hidden", "journal.jsonl"):
        assert "file_name" in refusal(
            shop,
            "insert into gloveson.file (bay, job, name, sha256, content) values "  # noqa: S608
            f"('bay_1', 'j', '{name}', encode(sha256('x'), 'hex'), 'x')",
        )


def test_a_record_that_a_database_cannot_hold_stops_no_other(shop: Shop, jobs: Path) -> None:
    """PostgreSQL keeps no NUL in a text; the record with one in a kind is kept apart."""
    odd = jobs / "odd"
    odd.mkdir()
    line = make_entry(0, "a\x00b", {"job": "odd"}, wall=WALL, mono=1.0, prev=genesis("odd")).line()
    (odd / JOURNAL).write_bytes(line)
    store = shop.engine("bay_1")
    done = forward(store, "bay_1", jobs)
    assert [problem.job for problem in done.problems] == ["odd"]
    assert last_of_all(store, "bay_1").keys() == {"one"}
    kept = shop.sql("select encode(content, 'hex') from gloveson.refused where job = 'odd'")
    assert bytes.fromhex(kept.strip()) == line


def test_an_entry_made_to_look_right_is_refused(store: Engine) -> None:
    """Its hash is not that of what it says; nothing of the batch is stored."""
    first = entry(0, genesis("j"))
    lying = make_entry(1, "said", {"text": "y"}, wall=WALL, mono=1.0, prev=first.hash)
    object.__setattr__(lying, "hash", "0" * 64)
    with pytest.raises(StoreRefused, match="hash doesn't match") as caught:
        take(store, "bay_1", Batch("j", (first, lying)))
    assert caught.value.entry == 1
    assert last_of_all(store, "bay_1") == {}
    sealed = entry(1, first.hash, "sealed")
    with pytest.raises(StoreRefused, match="after the seal"):
        take(store, "bay_1", Batch("j", (first, sealed, entry(2, sealed.hash))))
    with pytest.raises(StoreRefused, match="a fork of the job"):
        take(store, "bay_1", Batch("another", (first,)))


def test_two_runs_at_once_store_everything_once(shop: Shop, jobs: Path) -> None:
    """They meet on the same entries; one waits for the other and finds them there."""
    done: list[Forwarded] = []
    start = threading.Barrier(4)

    def run() -> None:
        engine = shop.engine("bay_1")
        start.wait()
        done.append(forward(engine, "bay_1", jobs, most=3))

    threads = [threading.Thread(target=run) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    whole = (jobs / "one" / JOURNAL).read_bytes().count(b"\n")
    assert [run.problems for run in done] == [()] * 4
    assert shop.sql("select count(*) from gloveson.entry").strip() == str(whole)


def test_which_record_is_meant(file_store: Engine, jobs: Path) -> None:
    """A job that two bays have is asked for with its bay."""
    forward(file_store, "left", jobs)
    assert owner_of(file_store, "one") == ("left", "one")
    forward(file_store, "right", jobs)
    assert owner_of(file_store, "right/one") == ("right", "one")
    for wanted, told in (
        ("one", "several bays"),
        ("two", "no job"),
        ("middle/one", "no job"),
        ("left/../one", "no job"),
        ("left/..", "can't be a job"),
    ):
        with pytest.raises(BadInput, match=told):
            owner_of(file_store, wanted)


def test_a_bay_in_a_file_has_a_plain_name(file_store: Engine) -> None:
    """It stands in listings."""
    assert who_am_i(file_store, "left-lift") == "left-lift"
    with pytest.raises(BadInput, match="can't be a bay"):
        who_am_i(file_store, "left\x1b[31m")


def test_a_missing_driver_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """With what installs it."""
    monkeypatch.setattr(address, "find_spec", lambda _name: None)
    with pytest.raises(BadInput, match=r"pip install gloves-on\[shops\]"):
        read_address("postgresql://bay@host/db").open()
