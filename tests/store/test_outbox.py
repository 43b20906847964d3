"""What of a record may be forwarded, and in which pieces."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.errors import JournalUnwritable, RecordDamaged
from assistant.record.clips import save_clip
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from assistant.store import outbox
from assistant.store.outbox import MOST_BYTES, Packer, last_settled, settled, settled_size

WALL = "2026-03-02T10:00:00.000Z"


def written(jobs: Path, entries: int) -> Path:
    """A record of so many entries that nobody holds."""
    with Journal.create(jobs / "one") as journal:
        for n in range(entries):
            journal.append("said", {"job": "one", "n": n}, WALL, float(n))
    return jobs / "one"


def test_the_last_line_of_a_job_in_use_waits(tmp_path: Path) -> None:
    """Nobody knows yet whether its write was acknowledged; with one line, none may go."""
    folder = written(tmp_path, 2)
    whole = (folder / JOURNAL).stat().st_size
    assert settled_size(folder) == whole
    with Journal.open(folder):
        assert settled_size(folder) == len((folder / JOURNAL).read_bytes().splitlines(True)[0])
    assert settled_size(folder) == whole
    with Journal.create(tmp_path / "two") as journal:
        assert settled_size(tmp_path / "two") == 0
        journal.append("said", {"job": "two"}, WALL, 1.0)
        assert settled_size(tmp_path / "two") == 0


def test_all_of_a_record_on_a_disk_that_can_only_be_read_may_go(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nobody can cut a line off there."""

    def no_lock(_folder: Path) -> None:
        raise JournalUnwritable("read-only")

    folder = written(tmp_path, 2)
    monkeypatch.setattr(outbox, "lock_job", no_lock)
    assert settled_size(folder) == (folder / JOURNAL).stat().st_size


def test_a_torn_line_is_left_out(tmp_path: Path) -> None:
    """It was never acknowledged."""
    folder = written(tmp_path, 3)
    journal = folder / JOURNAL
    lines = journal.read_bytes().splitlines(keepends=True)
    journal.write_bytes(b"".join(lines) + lines[0][:30])
    size = settled_size(folder)
    assert [entry.n for entry in settled(folder, size)] == [0, 1, 2]
    assert last_settled(folder, size) == lines[2]
    journal.write_bytes(b"")
    assert last_settled(folder, 0) == b""
    assert list(settled(folder, 0)) == []


def test_batches_end_by_number_and_by_size(tmp_path: Path) -> None:
    """Entries stay whole; the files that they name count."""
    folder = written(tmp_path, 7)
    size = settled_size(folder)
    batches = list(Packer(folder).batches(settled(folder, size), 3))
    assert [len(batch.entries) for batch in batches] == [3, 3, 1]
    with Journal.create(tmp_path / "large") as journal:
        for n in range(12):
            journal.append("said", {"job": "large", "text": "x" * (MOST_BYTES // 8)}, WALL, n)
    large = tmp_path / "large"
    batches = list(Packer(large).batches(settled(large, settled_size(large))))
    assert [len(batch.entries) for batch in batches] == [8, 4]


def test_a_file_that_two_entries_name_goes_once(tmp_path: Path) -> None:
    """With the first of them."""
    with Journal.create(tmp_path / "one") as journal:
        clip = save_clip(tmp_path / "one", b"\0\1" * 800)
        for n in range(2):
            journal.append("heard", {"job": "one", "clip": clip.data()}, WALL, float(n))
    folder = tmp_path / "one"
    first, second = Packer(folder).batches(settled(folder, settled_size(folder)), 1)
    assert [file.name for file in first.files] == [clip.file]
    assert second.files == ()


def test_what_is_good_goes_before_what_is_wrong(tmp_path: Path) -> None:
    """The entries before a damaged one are yielded, and then the damage is told."""
    folder = written(tmp_path, 5)
    journal = folder / JOURNAL
    journal.write_bytes(journal.read_bytes().replace(b'"n":3,"prev"', b'"n":4,"prev"'))
    batches = Packer(folder).batches(settled(folder, settled_size(folder)))
    assert [entry.n for entry in next(batches).entries] == [0, 1, 2]
    with pytest.raises(RecordDamaged) as caught:
        next(batches)
    assert caught.value.entry == 3
