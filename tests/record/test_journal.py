"""The journal: durable, strict about its tail, and honest when the disk refuses."""

from __future__ import annotations

import hashlib
import math
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import (
    BadInput,
    JobInUse,
    JournalUnwritable,
    RecordDamaged,
    RecordSealed,
)
from assistant.record.audit import audit
from assistant.record.clips import save_clip
from assistant.record.entry import genesis
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal, now
from tests.record.disks import FailingDisk, file_limit, tiny_disk, unprivileged
from tests.record.making import (
    JOB,
    TONE,
    WALL,
    clock,
    lines_of,
    open_record,
    sealed_record,
    write_lines,
)


def _append(journal: Journal, count: int = 1, size: int = 10) -> None:
    for _ in range(count):
        journal.append("event", {"text": "x" * size}, WALL, 1.0)


def test_create_append_open(tmp_path: Path) -> None:
    """What was appended is there, in order and chained, when the job is opened again."""
    folder = tmp_path / JOB
    with Journal.create(folder) as journal:
        assert journal.last is None
        first = journal.append("opened", {"job": JOB}, WALL, 1)
        second = journal.append("said", {"seconds": 5.0, "pair": (1, 2)}, WALL, 2.5)
    assert (first.n, first.prev) == (0, genesis(JOB))
    assert (second.n, second.prev) == (1, first.hash)
    assert second.data == {"seconds": 5, "pair": [1, 2]}
    with Journal.open(folder, clock=clock) as journal:
        assert journal.entries == (first, second)
        assert journal.last == second
        assert len(journal) == 2
        assert not journal.sealed
        assert journal.append("said", {}, WALL, 3.0).prev == second.hash
    assert audit(folder).ok


def test_folder_holds_nothing_else(tmp_path: Path) -> None:
    """A job folder holds the journal, clips and checklist; the lock lies outside."""
    folder = open_record(tmp_path)
    assert sorted(path.name for path in folder.iterdir()) == ["checklist", "clips", JOURNAL]


def test_create_never_overwrites(tmp_path: Path) -> None:
    """A folder with something in it is never made into a new job."""
    folder = open_record(tmp_path)
    before = lines_of(folder)
    with pytest.raises(BadInput, match="never overwritten"):
        Journal.create(folder)
    assert lines_of(folder) == before


@pytest.mark.parametrize("name", ["Job 1", "..", ".locks", "a_b"])
def test_bad_folder_names(name: str, tmp_path: Path) -> None:
    """A folder whose name is no job id is neither made nor opened."""
    for call in (Journal.create, Journal.open):
        with pytest.raises(BadInput):
            call(tmp_path / "jobs" / name)
    assert not (tmp_path / "jobs").exists()


def test_open_nothing(tmp_path: Path) -> None:
    """Opening a job that isn't there says so."""
    with pytest.raises(BadInput, match="no job"):
        Journal.open(tmp_path / JOB)


def test_clock_steps_back(tmp_path: Path) -> None:
    """Wall and monotonic clocks are written as they are; the number keeps the order."""
    with Journal.create(tmp_path / JOB) as journal:
        journal.append("a", {}, "2026-01-02T03:04:05.678Z", 100.0)
        journal.append("b", {}, "1999-12-31T23:59:59.999Z", 2.0)
    found = audit(tmp_path / JOB)
    assert (found.ok, found.entries) == (True, 2)


def test_now_is_writable(tmp_path: Path) -> None:
    """The machine's clocks come in the form that an entry takes."""
    with Journal.create(tmp_path / JOB) as journal:
        journal.append("opened", {}, *now())


@pytest.mark.parametrize(
    ("kind", "data", "wall", "mono"),
    [
        ("", {}, WALL, 1.0),
        ("event", {"a": math.nan}, WALL, 1.0),
        ("event", {"a": "\udc80"}, WALL, 1.0),
        ("event", {}, "now", 1.0),
        ("event", {}, WALL, math.inf),
        ("event", {"covers": [{"file": "../x", "sha256": "0" * 64}]}, WALL, 1.0),
        ("event", {"clip": {"file": "clips/x.flac", "sha256": "", "seconds": 1}}, WALL, 1.0),
    ],
)
def test_bad_entries_change_nothing(
    kind: str, data: dict[str, object], wall: str, mono: float, tmp_path: Path
) -> None:
    """What can't be an entry is refused before the file is touched, and the journal goes on."""
    with Journal.create(tmp_path / JOB) as journal:
        with pytest.raises(BadInput):
            journal.append(kind, data, wall, mono)
        assert lines_of(tmp_path / JOB) == []
        _append(journal)
    assert audit(tmp_path / JOB).ok


def test_nothing_after_seal(tmp_path: Path) -> None:
    """A sealed record opens for reading and takes no more entries."""
    folder, _ = sealed_record(tmp_path)
    before = lines_of(folder)
    with Journal.open(folder) as journal:
        assert journal.sealed
        with pytest.raises(RecordSealed):
            _append(journal)
    assert lines_of(folder) == before


def test_closed_journal(tmp_path: Path) -> None:
    """A closed journal takes nothing; closing twice is harmless."""
    journal = Journal.create(tmp_path / JOB)
    journal.close()
    journal.close()
    with pytest.raises(JournalUnwritable, match="closed"):
        _append(journal)


def test_two_journals_on_one_job(tmp_path: Path) -> None:
    """The second to open a job is told which job is in use, and gets it after the first."""
    folder = tmp_path / JOB
    with Journal.create(folder):
        for call in (Journal.open, Journal.create):
            with pytest.raises(JobInUse, match=JOB):
                call(folder)
    with Journal.open(folder):
        pass


def test_failed_create_frees_the_job(tmp_path: Path) -> None:
    """A creation that fails lets go of the lock."""
    folder = tmp_path / JOB
    folder.mkdir()
    (folder / "other").touch()
    with pytest.raises(BadInput):
        Journal.create(folder)
    (folder / "other").unlink()
    with Journal.create(folder):
        pass


def test_every_torn_length(tmp_path: Path) -> None:
    """A last line cut at any byte is dropped, and an entry says how much and which bytes."""
    folder = open_record(tmp_path)
    lines = lines_of(folder)
    last = lines[-1]
    for kept in range(1, len(last)):
        write_lines(folder, [*lines[:-1], last[:kept]])
        with Journal.open(folder, clock=clock) as journal:
            assert len(journal) == len(lines)
            assert journal.last is not None
            assert (journal.last.kind, journal.last.wall) == ("repaired", WALL)
            assert journal.last.data == {
                "job": JOB,
                "dropped": {"bytes": kept, "sha256": hashlib.sha256(last[:kept]).hexdigest()},
                "unnamed": [],
            }
        assert lines_of(folder)[:-1] == lines[:-1]
        assert audit(folder).ok


def test_torn_first_line(tmp_path: Path) -> None:
    """A job that died in its very first write opens, with the repair as its first entry."""
    folder = tmp_path / JOB
    with Journal.create(folder):
        pass
    (folder / JOURNAL).write_bytes(b'{"data":')
    with Journal.open(folder) as journal:
        assert [entry.kind for entry in journal.entries] == ["repaired"]


def test_zeros_at_the_end(tmp_path: Path) -> None:
    """Zeros that a power cut left at the end of the file are dropped like a torn line."""
    folder = open_record(tmp_path)
    count = len(lines_of(folder))
    with (folder / JOURNAL).open("ab") as file:
        file.write(bytes(4096))
    with Journal.open(folder) as journal:
        assert len(journal) == count + 1
    assert audit(folder).ok


def test_torn_line_after_seal_is_damage(tmp_path: Path) -> None:
    """Behind a seal nobody writes, so a piece of a line there is not repaired."""
    folder, _ = sealed_record(tmp_path)
    with (folder / JOURNAL).open("ab") as file:
        file.write(b"{")
    with pytest.raises(RecordDamaged) as caught:
        Journal.open(folder)
    assert caught.value.entry == 5
    assert (folder / JOURNAL).read_bytes().endswith(b"{")


@pytest.mark.parametrize("n", range(4))
def test_damage_is_not_repaired(n: int, tmp_path: Path) -> None:
    """A changed line is damage that names the entry, and the file is left alone."""
    folder = open_record(tmp_path)
    lines = lines_of(folder)
    lines[n] = lines[n].replace(b'"mono":', b'"mono":1')
    write_lines(folder, lines)
    with pytest.raises(RecordDamaged, match=f"entry {n} ") as caught:
        Journal.open(folder)
    assert caught.value.entry == n
    assert lines_of(folder) == lines


def test_journal_of_another_job(tmp_path: Path) -> None:
    """A folder with another job's journal in it is not opened as its own."""
    folder = open_record(tmp_path)
    other = folder.rename(folder.with_name("20260102-030405-2"))
    with pytest.raises(RecordDamaged, match="another job"):
        Journal.open(other)


def test_unnamed_clip_is_taken_in(tmp_path: Path) -> None:
    """A clip saved just before a crash, whole or cut short, is covered when the job goes on."""
    folder = open_record(tmp_path)
    whole = save_clip(folder, TONE)
    cut = folder / "clips" / "000003.flac"
    cut.write_bytes(b"fLaC")
    assert not audit(folder).ok
    with Journal.open(folder) as journal:
        assert journal.last is not None
        digest = hashlib.sha256(b"fLaC").hexdigest()
        assert journal.last.data["unnamed"] == [
            {"clip": whole.data()},
            {"clip": {"file": "clips/000003.flac", "sha256": digest, "seconds": 0}},
        ]
    assert audit(folder).ok
    with Journal.open(folder) as journal:
        assert len(journal) == 5


@pytest.mark.parametrize("room", [0, 1, 50, 10_000])
def test_failed_write_then_retry(room: int, tmp_path: Path) -> None:
    """After a write that failed part-way nothing is taken until the real tail was looked at."""
    disk, folder = FailingDisk(), tmp_path / JOB
    with Journal.create(folder, disk=disk) as journal:
        _append(journal, 3)
        good = lines_of(folder)
        disk.room = room
        with pytest.raises(JournalUnwritable, match="not saved"):
            _append(journal)
        assert len(journal) == 3
        disk.room = None
        with pytest.raises(JournalUnwritable, match="try again first"):
            _append(journal)
        journal.retry()
        assert lines_of(folder) == good
        _append(journal)
        journal.retry()
    assert audit(folder).entries == 4


def test_failed_sync_then_retry(tmp_path: Path) -> None:
    """An entry whose sync failed isn't acknowledged; retry works once the disk does."""
    disk, folder = FailingDisk(), tmp_path / JOB
    with Journal.create(folder, disk=disk) as journal:
        _append(journal, 2)
        good = lines_of(folder)
        disk.sync_fails = True
        with pytest.raises(JournalUnwritable):
            _append(journal)
        with pytest.raises(JournalUnwritable, match="still"):
            journal.retry()
        disk.sync_fails = False
        journal.retry()
        assert lines_of(folder) == good
        _append(journal)
    assert audit(folder).entries == 3


def test_interrupted_write_needs_retry(tmp_path: Path) -> None:
    """An interrupt in the middle of a write leaves the tail in doubt, not acknowledged."""

    class Interrupted(FailingDisk):
        def write(self, fd: int, data: bytes) -> None:
            super().write(fd, data[:7])
            raise KeyboardInterrupt

    folder = open_record(tmp_path)
    with Journal.open(folder, disk=Interrupted()) as journal:
        with pytest.raises(KeyboardInterrupt):
            _append(journal)
        with pytest.raises(JournalUnwritable):
            _append(journal)
        journal.retry()
    assert audit(folder).entries == 4


def _lose_entry(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-200])


def _change_byte(path: Path) -> None:
    path.write_bytes(path.read_bytes().replace(b"Cover", b"Lever"))


def _add_line(path: Path) -> None:
    path.write_bytes(path.read_bytes() + b"{}\n")


@pytest.mark.parametrize("harm", [_lose_entry, _change_byte, _add_line])
def test_retry_refuses_strange_tails(harm: Callable[[Path], None], tmp_path: Path) -> None:
    """Retry cuts off only what the failed write left; anything else is damage."""
    disk, folder = FailingDisk(), open_record(tmp_path)
    with Journal.open(folder, disk=disk) as journal:
        disk.room = 0
        with pytest.raises(JournalUnwritable):
            _append(journal)
        disk.room = None
        harm(folder / JOURNAL)
        before = (folder / JOURNAL).read_bytes()
        with pytest.raises(RecordDamaged):
            journal.retry()
        with pytest.raises(JournalUnwritable):
            _append(journal)
    assert (folder / JOURNAL).read_bytes() == before


def test_somebody_else_writes(tmp_path: Path) -> None:
    """A file that another program lengthened takes no more entries."""
    folder = open_record(tmp_path)
    with Journal.open(folder) as journal:
        with (folder / JOURNAL).open("ab") as file:
            file.write(b"{}\n")
        with pytest.raises(JournalUnwritable, match="bytes where"):
            _append(journal)


def test_yanked_folder(tmp_path: Path) -> None:
    """A folder that is taken away stops the job; put back, the job goes on."""
    folder = open_record(tmp_path)
    away = tmp_path / "away"
    with Journal.open(folder) as journal:
        folder.rename(away)
        with pytest.raises(JournalUnwritable):
            _append(journal)
        with pytest.raises(JournalUnwritable):
            journal.retry()
        shutil.copytree(away, folder)
        with pytest.raises(JournalUnwritable):
            _append(journal)
        journal.retry()
        _append(journal)
    assert audit(folder).entries == 5
    assert audit(away, JOB).entries == 4


def test_full_disk_by_limit(tmp_path: Path) -> None:
    """At a real limit of the system the journal stops cleanly, and goes on after it."""
    folder = tmp_path / JOB
    with Journal.create(folder) as journal:
        with file_limit(5_000), pytest.raises(JournalUnwritable):
            _append(journal, 100, size=300)
        count = len(journal)
        assert 5 < count < 20
        assert (folder / JOURNAL).stat().st_size == 5_000
        journal.retry()
        _append(journal)
    assert audit(folder).entries == count + 1


def test_full_disk_mounted(tmp_path: Path) -> None:
    """On a real full file system every acknowledged entry stays, and space brings it back."""
    try:
        with tiny_disk(tmp_path / "disk") as disk:
            folder = disk / JOB
            with Journal.create(folder) as journal:
                ballast = disk / "ballast"
                ballast.write_bytes(bytes(20_000))
                with pytest.raises(JournalUnwritable):
                    _append(journal, 1000, size=900)
                count = len(journal)
                with pytest.raises(JournalUnwritable):
                    save_clip(folder, b"\x07\x31\x99\x02" * 30_000)
                ballast.unlink()
                journal.retry()
                _append(journal)
            found = audit(folder)
            assert (found.ok, found.entries) == (True, count + 1)
    except PermissionError as error:
        pytest.skip(f"may not mount a small disk here; the limit test stands for it: {error}")


def test_read_only_folder() -> None:
    """Where nothing may be written neither a new job nor an old one begins."""
    with unprivileged() as place:
        folder = open_record(place)
        for path in (folder / JOURNAL, place / ".locks" / f"{JOB}.lock", place):
            path.chmod(path.stat().st_mode & ~0o222)
        try:
            assert audit(folder).ok
            with pytest.raises(JournalUnwritable):
                Journal.open(folder)
            with pytest.raises(JournalUnwritable):
                Journal.create(place / "20260102-030406")
        finally:
            place.chmod(0o700)


def test_journal_becomes_read_only() -> None:
    """A journal file that may not be written, under a lock that may, can't be opened."""
    with unprivileged() as place:
        folder = open_record(place)
        (folder / JOURNAL).chmod(0o444)
        with pytest.raises(JournalUnwritable, match="can't be opened"):
            Journal.open(folder)


@settings(max_examples=30, deadline=None)
@given(
    facts=st.lists(
        st.tuples(
            st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20),
            st.dictionaries(st.text("abc"), st.integers(-9, 9) | st.text("xyz") | st.none()),
            st.floats(0, 1e6),
        ),
        max_size=8,
    ),
    reopen_at=st.integers(0, 8),
)
def test_reopening_anywhere_changes_nothing(
    facts: list[tuple[str, dict[str, object], float]],
    reopen_at: int,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Any run of entries, with the job closed and opened in between, is there as written."""
    folder = tmp_path_factory.mktemp("jobs") / JOB
    written = []
    journal = Journal.create(folder)
    for n, (kind, data, mono) in enumerate(facts):
        if n == reopen_at:
            journal.close()
            journal = Journal.open(folder)
        if kind == "sealed":
            continue
        written.append(journal.append(kind, data, WALL, mono))
    journal.close()
    with Journal.open(folder) as again:
        assert again.entries == tuple(written)
