"""The index of all bays: derived from the journals in the store, with the same questions."""

from __future__ import annotations

from pathlib import Path

import pytest
from sqlalchemy import Engine, text, update

from assistant.errors import StoreUnavailable
from assistant.store.central import forget_index, refresh_store
from assistant.store.forwarding import forward
from assistant.store.index import INDEX_FILE, Refreshed, open_index, refresh
from assistant.store.outbox import Batch
from assistant.store.receiving import take
from assistant.store.search import Wanted, find
from assistant.store.tables import ABOUT
from tests.store.conftest import Shop
from tests.store.records import played

QUESTIONS = [
    Wanted(),
    Wanted(vehicle="wren"),
    Wanted(vehicle="%"),
    Wanted(vehicle="_t"),
    Wanted(vehicle="' or 1=1 --"),
    Wanted(person="mara"),
    Wanted(person="nobody"),
    Wanted(step="HOSE-on"),
    Wanted(part="WL-CW-10"),
    Wanted(trouble="leak"),
    Wanted(trouble="banjo"),
    Wanted(out_of_limits=True),
    Wanted(reading="resting voltage", out_of_limits=True),
    Wanted(reading="pad thickness", out_of_limits=True),
    Wanted(checklist="small@1.0.0", status="released"),
    Wanted(checklist="small@0.9.0"),
    Wanted(since="2026-03-02", until="2026-03-02"),
    Wanted(since="2026-03-03"),
    Wanted(until="2026-03-01"),
]


@pytest.fixture(scope="module")
def three(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three jobs: one smooth, one with a leak, one with a low battery."""
    folder = tmp_path_factory.mktemp("shop") / "jobs"
    played(folder, "one", "WREN 7\x00")
    played(folder, "two", "WREN 8", trouble=True)
    played(folder, "three", "100% odd_tag", low=True)
    return folder


def test_the_same_questions_have_the_same_answers(
    store: Engine, office: Engine, three: Path, tmp_path: Path
) -> None:
    """In the shop's own index and in the store's; there a job is named with its bay."""
    forward(store, "bay_1", three)
    told = list[tuple[int, int]]()
    assert refresh_store(office, lambda *far: told.append(far)) == Refreshed(3, 0, 0)
    assert told == [(1, 3), (2, 3), (3, 3)]
    assert refresh_store(office) == Refreshed(0, 0, 0)
    local = open_index(tmp_path / INDEX_FILE)
    refresh(local, three)
    for wanted in QUESTIONS:
        here = {row["id"]: row["vehicle"] for row in find(local, wanted)}
        there = {row["id"]: row["vehicle"] for row in find(office, wanted)}
        assert there == {f"bay_1/{job}": vehicle for job, vehicle in here.items()}, wanted


def test_the_index_is_built_again_from_the_journals(
    store: Engine, office: Engine, three: Path
) -> None:
    """It holds nothing that they don't."""
    forward(store, "bay_1", three)
    refresh_store(office)
    before = find(office, Wanted())
    forget_index(office)
    assert find(office, Wanted()) == []
    assert refresh_store(office).read == 3
    assert find(office, Wanted()) == before


def test_a_job_that_grew_is_read_again(store: Engine, office: Engine, three: Path) -> None:
    """First a part of it, then the rest."""
    forward(store, "bay_1", three, most=5, send=_only_first)
    assert refresh_store(office).read == 3
    assert find(office, Wanted(status="released")) == []
    forward(store, "bay_1", three)
    assert refresh_store(office).read == 3
    assert len(find(office, Wanted(status="released"))) == 3


def _only_first(engine: Engine, bay: str, batch: Batch) -> int:
    """Sends the first batch of each job and forgets the others."""
    return 0 if batch.entries[0].n else take(engine, bay, batch)


def test_an_index_of_another_program_is_told(store: Engine, request: pytest.FixtureRequest) -> None:
    """Nobody but the owner may change its tables."""
    owner = store
    if store.dialect.name == "postgresql":
        shop: Shop = request.getfixturevalue("shop")
        owner = shop.engine()
    with owner.begin() as connection:
        connection.execute(update(ABOUT).values(layout=1))
    reader = owner if store.dialect.name == "sqlite" else shop.engine("office_1")
    with pytest.raises(StoreUnavailable, match="another program version"):
        refresh_store(reader)


def test_what_an_index_cannot_hold_hides_no_other_job(shop: Shop, tmp_path: Path) -> None:
    """PostgreSQL indexes no text of thousands of bytes that don't compress."""
    jobs = tmp_path / "jobs"
    played(jobs, "good", "WREN 7")
    long = "".join(chr(0x4E00 + n * 7919 % 20000) for n in range(4000))
    played(jobs, "long", long)
    forward(shop.engine("bay_1"), "bay_1", jobs)
    office = shop.engine("office_1")
    assert refresh_store(office) == Refreshed(2, 0, 1)
    (row,) = find(office, Wanted(status="damaged"))
    assert (row["id"], "can't hold" in row["problem"]) == ("bay_1/long", True)
    assert [found["id"] for found in find(office, Wanted(status="released"))] == ["bay_1/good"]


def test_the_databases_own_view_of_it(store: Engine, three: Path) -> None:
    """Bytes in the store are the journal's lines, asked without our tables."""
    forward(store, "bay_1", three)
    schema = "gloveson." if store.dialect.name == "postgresql" else ""
    with store.connect() as connection:
        asked = text(f"select line from {schema}entry where job = 'one' order by n")  # noqa: S608
        found = b"".join(bytes(line) for line in connection.execute(asked).scalars())
    assert found == (three / "one" / "journal.jsonl").read_bytes()
