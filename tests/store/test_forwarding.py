"""Forwarding to either kind of store: nothing lost, nothing doubled, refusals kept apart."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from sqlalchemy import Engine, func, select
from sqlalchemy.exc import OperationalError

from assistant.errors import StoreRefused
from assistant.record.audit import audit
from assistant.record.clips import save_clip
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from assistant.record.seal import seal
from assistant.store.fetching import fetch
from assistant.store.forwarding import Forwarded, forward
from assistant.store.journals import ENTRY, FILE, REFUSED
from assistant.store.outbox import Batch
from assistant.store.receiving import last_of_all, take
from tests.store.conftest import Shop
from tests.store.trees import tree

WALL = "2026-03-02T10:00:00.000Z"


def count(store: Engine) -> int:
    """Entries in the store."""
    with store.connect() as connection:
        return connection.execute(select(func.count()).select_from(ENTRY)).scalar_one()


def refused(store: Engine) -> list[tuple[int, str, bytes]]:
    """What is kept apart, by number."""
    with store.connect() as connection:
        asked = select(REFUSED.c.n, REFUSED.c.reason, REFUSED.c.content).order_by(REFUSED.c.n)
        return [(row.n, row.reason, row.content) for row in connection.execute(asked)]


def lines(folder: Path) -> list[bytes]:
    """A journal's lines."""
    return (folder / JOURNAL).read_bytes().splitlines(keepends=True)


def test_a_record_comes_back_byte_for_byte(store: Engine, jobs: Path, tmp_path: Path) -> None:
    """Journal, clips and copies; and it passes the audit under its own id."""
    sent = forward(store, "bay_1", jobs, most=7)
    assert sent == Forwarded(1, len(lines(jobs / "one")))
    fetch(store, "bay_1", "one", tmp_path / "back")
    assert tree(tmp_path / "back") == tree(jobs / "one")
    assert audit(tmp_path / "back", "one").seal == audit(jobs / "one").seal


def test_a_second_run_sends_nothing(store: Engine, jobs: Path) -> None:
    """The store says how far it is."""
    forward(store, "bay_1", jobs)
    before = count(store)
    assert forward(store, "bay_1", jobs) == Forwarded()
    assert count(store) == before


def test_a_run_goes_on_where_another_ended(store: Engine, jobs: Path, tmp_path: Path) -> None:
    """The connection goes after two batches; the next run sends the rest, once."""
    sent = 0

    def cut(engine: Engine, bay: str, batch: Batch) -> int:
        nonlocal sent
        if sent == 2:
            raise OperationalError("insert", {}, ConnectionError("gone"))
        sent += 1
        return take(engine, bay, batch)

    with pytest.raises(OperationalError):
        forward(store, "bay_1", jobs, most=5, send=cut)
    assert count(store) == 10
    assert forward(store, "bay_1", jobs).entries == len(lines(jobs / "one")) - 10
    fetch(store, "bay_1", "one", tmp_path / "back")
    assert tree(tmp_path / "back") == tree(jobs / "one")


def test_batches_that_come_twice_or_in_the_wrong_order(store: Engine, jobs: Path) -> None:
    """Twice changes nothing; what would leave a gap is refused whole, and comes again."""

    def chaotic(engine: Engine, bay: str, batch: Batch) -> int:
        half = len(batch.entries) // 2
        first = Batch(batch.job, batch.entries[:half], batch.files)
        second = Batch(batch.job, batch.entries[half:])
        if half:
            with pytest.raises(StoreRefused, match="leaves a gap"):
                take(engine, bay, second)
        done = take(engine, bay, first) + take(engine, bay, second)
        assert take(engine, bay, batch) == 0
        return done

    assert forward(store, "bay_1", jobs, most=6, send=chaotic).problems == ()
    assert count(store) == len(lines(jobs / "one"))
    assert refused(store) == []


def test_a_job_under_way_grows_in_the_store(store: Engine, tmp_path: Path) -> None:
    """While the bay holds it, its last line may be taken back yet, so it waits for the next."""
    jobs = tmp_path / "jobs"
    with Journal.create(jobs / "open") as journal:
        for n in range(3):
            journal.append("said", {"job": "open", "n": n}, WALL, float(n))
        assert forward(store, "bay_1", jobs).entries == 2
        journal.append("said", {"n": 3}, WALL, 3.0)
        assert forward(store, "bay_1", jobs).entries == 1
    assert forward(store, "bay_1", jobs).entries == 1
    torn = lines(jobs / "open")[0][:40]
    with (jobs / "open" / JOURNAL).open("ab") as file:
        file.write(torn)  # a crash in the middle of a write
    assert forward(store, "bay_1", jobs) == Forwarded()
    with Journal.open(jobs / "open"):
        pass
    assert forward(store, "bay_1", jobs).entries == 1  # the entry that tells of the repair
    assert refused(store) == []


def test_a_clock_that_jumps_by_days_changes_nothing(store: Engine, tmp_path: Path) -> None:
    """The order is that of the chain; the store's own time of receipt is kept beside."""
    jobs = tmp_path / "jobs"
    walls = ["2026-03-09T10:00:00.000Z", "1999-01-01T00:00:00.000Z", "2099-12-31T23:59:59.999Z"]
    with Journal.create(jobs / "odd") as journal:
        for wall in walls:
            journal.append("said", {"job": "odd"}, wall, 1.0)
        seal(journal, walls[1], 0.5)
    assert forward(store, "bay_1", jobs) == Forwarded(1, 4)
    fetch(store, "bay_1", "odd", tmp_path / "back")
    assert lines(tmp_path / "back") == lines(jobs / "odd")
    with store.connect() as connection:
        received = connection.execute(select(ENTRY.c.received)).scalars().all()
    assert len({moment.date() for moment in received}) <= 2
    assert min(received).year >= 2026


def test_a_wrong_hash_is_refused_and_kept_apart(store: Engine, jobs: Path) -> None:
    """What came before it is stored; the wrong line lies apart, as it came, once."""
    journal = jobs / "one" / JOURNAL
    wrong = lines(jobs / "one")
    wrong[10] = wrong[10].replace(b'"mono":', b'"mono":1')
    journal.write_bytes(b"".join(wrong))
    for _ in range(2):
        done = forward(store, "bay_1", jobs)
        assert "entry 10 (line 11) is wrong: it was changed" in done.problems[0].reason
    assert count(store) == 10
    ((n, reason, content),) = refused(store)
    assert (n, content) == (10, wrong[10])
    assert "its hash doesn't match" in reason


def test_a_gap_is_refused_and_kept_apart(store: Engine, jobs: Path) -> None:
    """A line is missing on the bay's disk."""
    some = lines(jobs / "one")
    (jobs / "one" / JOURNAL).write_bytes(b"".join(some[:10] + some[11:]))
    done = forward(store, "bay_1", jobs)
    assert "out of order" in done.problems[0].reason
    assert count(store) == 10
    assert [(n, content) for n, _, content in refused(store)] == [(10, some[11])]


def test_a_fork_is_refused_and_kept_apart_whole(store: Engine, tmp_path: Path) -> None:
    """Two disks went on with one job: the store keeps the first chain, and the other beside."""
    jobs, other = tmp_path / "jobs", tmp_path / "other"
    with Journal.create(jobs / "forked") as journal:
        for n in range(5):
            journal.append("said", {"job": "forked", "n": n}, WALL, float(n))
    shutil.copytree(jobs, other)
    for place, words in ((jobs, "here"), (other, "there")):
        with Journal.open(place / "forked") as journal:
            for n in range(4):
                journal.append("said", {"words": words, "n": n}, WALL, float(n))
    assert forward(store, "bay_1", jobs).entries == 9
    for _ in range(2):
        done = forward(store, "bay_1", other)
        assert "a fork of the job" in done.problems[0].reason
    assert count(store) == 9
    assert [content for _, _, content in refused(store)] == lines(other / "forked")[5:]
    assert forward(store, "bay_1", jobs).problems == ()  # the right disk is not held up by it


def test_a_disk_that_was_set_back_is_told(store: Engine, jobs: Path) -> None:
    """An old copy was put back: nothing is stored, and going on with it would fork the job."""
    some = lines(jobs / "one")
    forward(store, "bay_1", jobs)
    (jobs / "one" / JOURNAL).write_bytes(b"".join(some[:12]))
    (problem,) = forward(store, "bay_1", jobs).problems
    assert "was set back" in problem.reason
    assert count(store) == len(some)


def test_a_clip_that_is_missing_is_told_and_comes_later(store: Engine, tmp_path: Path) -> None:
    """The entries go; the file follows when it is there again."""
    jobs = tmp_path / "jobs"
    with Journal.create(jobs / "clipped") as journal:
        clip = save_clip(jobs / "clipped", b"\0\1" * 800)
        journal.append("heard", {"job": "clipped", "clip": clip.data()}, WALL, 1.0)
        seal(journal, WALL, 2.0)
    file = jobs / "clipped" / clip.file
    file.rename(tmp_path / "taken")
    for _ in range(2):
        done = forward(store, "bay_1", jobs)
        assert "clips/000001.flac is missing" in done.problems[0].reason
    assert count(store) == 2
    (tmp_path / "taken").rename(file)
    assert forward(store, "bay_1", jobs).problems == ()
    with store.connect() as connection:
        assert connection.execute(select(FILE.c.content)).scalar_one() == file.read_bytes()
    fetch(store, "bay_1", "clipped", tmp_path / "back")
    assert audit(tmp_path / "back", "clipped").ok


def test_a_clip_that_has_gone_here_is_no_problem_where_the_store_has_it(
    store: Engine, tmp_path: Path
) -> None:
    """A shop may keep sound on the bay's disk for some days only."""
    jobs = tmp_path / "jobs"
    with Journal.create(jobs / "clipped") as journal:
        clip = save_clip(jobs / "clipped", b"\0\1" * 800)
        journal.append("heard", {"job": "clipped", "clip": clip.data()}, WALL, 1.0)
        journal.append("said", {}, WALL, 2.0)
    assert forward(store, "bay_1", jobs).entries == 2
    (jobs / "clipped" / clip.file).unlink()
    with Journal.open(jobs / "clipped") as journal:
        journal.append("said", {}, WALL, 3.0)
    assert forward(store, "bay_1", jobs) == Forwarded(1, 1)
    assert refused(store) == []


def test_a_fork_in_the_last_entry_alone_is_seen(store: Engine, tmp_path: Path) -> None:
    """Two disks, equally long."""
    for place, words in (("jobs", "here"), ("other", "there")):
        with Journal.create(tmp_path / place / "forked") as journal:
            journal.append("said", {"job": "forked"}, WALL, 1.0)
            journal.append("said", {"words": words}, WALL, 2.0)
    assert forward(store, "bay_1", tmp_path / "jobs").entries == 2
    (problem,) = forward(store, "bay_1", tmp_path / "other").problems
    assert "a fork of the job" in problem.reason
    assert [n for n, _, _ in refused(store)] == [1]


def test_two_bays_may_have_a_job_of_one_name(
    store: Engine, jobs: Path, request: pytest.FixtureRequest
) -> None:
    """They open a job in the same second: to the store these are two."""
    other = store
    if store.dialect.name == "postgresql":
        shop: Shop = request.getfixturevalue("shop")
        other = shop.engine("bay_2")
    whole = len(lines(jobs / "one"))
    assert forward(store, "bay_1", jobs) == Forwarded(1, whole)
    assert forward(other, "bay_2", jobs) == Forwarded(1, whole)
    assert last_of_all(store, "bay_1") == last_of_all(other, "bay_2")


def test_nothing_to_forward(store: Engine, tmp_path: Path) -> None:
    """No folder of jobs yet, or an empty one, or a job without a first entry."""
    assert forward(store, "bay_1", tmp_path / "none") == Forwarded()
    with Journal.create(tmp_path / "jobs" / "begun"):
        pass
    assert forward(store, "bay_1", tmp_path / "jobs") == Forwarded()
