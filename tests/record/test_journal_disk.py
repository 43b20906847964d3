"""The journal when the disk refuses: it stops cleanly, and goes on once it can."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.errors import (
    JournalUnwritable,
    RecordDamaged,
)
from assistant.record.audit import audit
from assistant.record.clips import save_clip
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from tests.record.disks import FailingDisk, file_limit, tiny_disk, unprivileged
from tests.record.making import (
    JOB,
    WALL,
    lines_of,
    open_record,
)


def _append(journal: Journal, count: int = 1, size: int = 10) -> None:
    for _ in range(count):
        journal.append("event", {"text": "x" * size}, WALL, 1.0)


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


def test_retry_wants_room_for_the_line_that_failed(tmp_path: Path) -> None:
    """A full disk lets a torn piece be cut off; that is not yet a disk that can be written."""
    disk, folder = FailingDisk(), tmp_path / JOB
    with Journal.create(folder, disk=disk) as journal:
        _append(journal, 2)
        good = b"".join(lines_of(folder))
        disk.room = 50
        with pytest.raises(JournalUnwritable):
            _append(journal)
        for _ in range(3):
            with pytest.raises(JournalUnwritable, match="still can't be written"):
                journal.retry()
            left = (folder / JOURNAL).read_bytes()
            assert left.startswith(good)
            assert b"\n" not in left[len(good) :]  # no entry, should the machine stop here
        disk.room = None
        journal.retry()
        assert (folder / JOURNAL).read_bytes() == good
        _append(journal)
    assert audit(folder).entries == 3


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
        interrupted = False

        def write(self, fd: int, data: bytes) -> None:
            if self.interrupted:
                super().write(fd, data)
                return
            self.interrupted = True
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
        assert journal.in_place()
        folder.rename(away)
        assert not journal.in_place()
        with pytest.raises(JournalUnwritable):
            _append(journal)
        with pytest.raises(JournalUnwritable):
            journal.retry()
        shutil.copytree(away, folder)
        with pytest.raises(JournalUnwritable):
            _append(journal)
        assert not journal.in_place()  # a copy is not the file that was opened
        journal.retry()
        _append(journal)
        assert journal.in_place()
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
