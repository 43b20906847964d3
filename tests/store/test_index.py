"""The index: built from records alone, brought up to date by what changed, always rebuildable."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import Engine, func, select

from assistant.store import index as index_module
from assistant.store.index import INDEX_FILE, Refreshed, open_index, refresh
from assistant.store.search import Wanted, find
from assistant.store.tables import FACTS, JOB
from tests.store.records import played


@pytest.fixture(scope="module")
def jobs(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three jobs: one smooth, one with a leak, one with a low battery."""
    folder = tmp_path_factory.mktemp("shop") / "jobs"
    played(folder, "one", "WREN 7")
    played(folder, "two", "WREN 8", trouble=True)
    played(folder, "three", "100% odd_tag", low=True)
    return folder


@pytest.fixture
def index(jobs: Path, tmp_path: Path) -> Engine:
    """Their index."""
    engine = open_index(tmp_path / INDEX_FILE)
    assert refresh(engine, jobs) == Refreshed(3, 0, 0)
    return engine


@pytest.mark.parametrize(
    ("wanted", "ids"),
    [
        (Wanted(), {"one", "two", "three"}),
        (Wanted(vehicle="wren"), {"one", "two"}),
        (Wanted(vehicle="%"), {"three"}),
        (Wanted(vehicle="_t"), {"three"}),
        (Wanted(vehicle="' or 1=1 --"), set()),
        (Wanted(person="mara"), {"one", "two", "three"}),
        (Wanted(person="nobody"), set()),
        (Wanted(step="hose-on"), {"one", "two", "three"}),
        (Wanted(part="WL-CW-10"), {"one", "two", "three"}),
        (Wanted(trouble="leak"), {"two"}),
        (Wanted(trouble="banjo"), {"two"}),
        (Wanted(out_of_limits=True), {"three"}),
        (Wanted(reading="resting voltage", out_of_limits=True), {"three"}),
        (Wanted(reading="pad thickness", out_of_limits=True), set()),
        (Wanted(checklist="small@1.0.0", status="released"), {"one", "two", "three"}),
        (Wanted(checklist="small@0.9.0"), set()),
        (Wanted(since="2026-03-02", until="2026-03-02"), {"one", "two", "three"}),
        (Wanted(since="2026-03-03"), set()),
        (Wanted(until="2026-03-01"), set()),
    ],
)
def test_jobs_are_found_by_what_is_in_their_records(
    index: Engine, wanted: Wanted, ids: set[str]
) -> None:
    """Everything given must hold; signs that search languages know are just signs."""
    assert {row["id"] for row in find(index, wanted)} == ids


def test_only_what_changed_is_read_again(jobs: Path, index: Engine, tmp_path: Path) -> None:
    """A second refresh reads nothing; a new job is read, one that is gone is forgotten."""
    assert refresh(index, jobs) == Refreshed(0, 0, 0)
    empty = tmp_path / "other"
    empty.mkdir()
    assert refresh(index, empty) == Refreshed(0, 3, 0)
    assert find(index, Wanted()) == []
    with index.connect() as connection:  # its facts have gone with it
        for table in FACTS.values():
            assert connection.execute(select(func.count()).select_from(table)).scalar() == 0


def test_a_bounded_refresh_reads_the_latest_first(jobs: Path, tmp_path: Path) -> None:
    """What is left is read the next time."""
    engine = open_index(tmp_path / INDEX_FILE)
    assert refresh(engine, jobs, 2) == Refreshed(2, 0, 0)
    assert {row["id"] for row in find(engine, Wanted())} == {"two", "three"}
    assert refresh(engine, jobs, 2) == Refreshed(1, 0, 0)


def test_how_far_a_refresh_has_come_is_told(
    jobs: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After each batch that is in the index; a stopped refresh goes on from there."""
    monkeypatch.setattr(index_module, "BATCH", 2)
    engine, told = open_index(tmp_path / INDEX_FILE), list[tuple[int, int]]()

    def stopped(done: int, of_all: int) -> None:
        told.append((done, of_all))
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        refresh(engine, jobs, progress=stopped)
    assert told == [(2, 3)]
    assert {row["id"] for row in find(engine, Wanted())} == {"two", "three"}
    assert refresh(engine, jobs, progress=lambda *far: told.append(far)) == Refreshed(1, 0, 0)
    assert told == [(2, 3), (1, 1)]


def test_a_spoiled_or_old_index_is_built_anew(jobs: Path, tmp_path: Path) -> None:
    """It holds nothing that the records don't."""
    path = tmp_path / INDEX_FILE
    path.write_bytes(b"no database at all" * 100)
    engine = open_index(path)
    assert refresh(engine, jobs).read == 3
    assert len(find(engine, Wanted())) == 3


def test_a_damaged_record_is_found_as_such(tmp_path: Path) -> None:
    """It stays in the index with what is wrong, and hides none of the others."""
    folder = tmp_path / "jobs"
    good, bad = played(folder, "good", "A"), played(folder, "bad", "B")
    journal = bad / "journal.jsonl"
    journal.write_bytes(journal.read_bytes().replace(b"WREN", b"WREM").replace(b'"B"', b'"C"'))
    engine = open_index(tmp_path / INDEX_FILE)
    assert refresh(engine, folder) == Refreshed(2, 0, 1)
    (row,) = find(engine, Wanted(status="damaged"))
    assert row["id"] == "bad"
    assert row["problem"]
    assert [r["id"] for r in find(engine, Wanted(status="released"))] == [good.name]


def test_the_index_has_no_more_jobs_than_there_are(index: Engine) -> None:
    """One row a job, however often it was refreshed."""
    with index.connect() as connection:
        assert connection.execute(select(func.count()).select_from(JOB)).scalar() == 3
