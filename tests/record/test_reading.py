"""Reading a record without holding it."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.errors import RecordDamaged
from assistant.record.audit import Verified, audit
from assistant.record.entry import Entry
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from assistant.record.reading import read_entries
from tests.record.making import JOB, copy_of, lines_of, open_record, sealed_record, write_lines


def test_entries_are_read_while_the_job_is_open(tmp_path: Path) -> None:
    """Reading takes no lock: the bay may hold the job meanwhile."""
    folder = open_record(tmp_path)
    with Journal.open(folder) as journal:
        assert read_entries(folder) == journal.entries


def test_a_copy_under_another_name_is_read(tmp_path: Path) -> None:
    """A record that was copied elsewhere is read there, but not as another job's."""
    folder, _ = sealed_record(tmp_path)
    moved = copy_of(folder, tmp_path / "backup").rename(tmp_path / "backup" / "of-monday")
    assert read_entries(moved) == read_entries(folder)
    with pytest.raises(RecordDamaged, match="another job"):
        read_entries(moved, "of-monday")
    assert len(read_entries(moved, JOB)) == 5


def test_nothing_is_repaired(tmp_path: Path) -> None:
    """A torn last line is told, and left on the disk as it is."""
    folder = open_record(tmp_path)
    lines = lines_of(folder)
    write_lines(folder, [*lines[:-1], lines[-1][:-20]])
    before = (folder / JOURNAL).read_bytes()
    with pytest.raises(RecordDamaged, match="torn") as problem:
        read_entries(folder)
    assert problem.value.entry == len(lines) - 1
    assert (folder / JOURNAL).read_bytes() == before


def test_a_missing_journal_is_told(tmp_path: Path) -> None:
    """A folder without a journal is no record, and the message names it."""
    with pytest.raises(RecordDamaged, match=str(tmp_path)):
        read_entries(tmp_path)


def test_a_record_read_while_it_is_verified_ends_with_its_audit(tmp_path: Path) -> None:
    """All entries come, then what the audit says."""
    folder, _ = sealed_record(tmp_path)
    reading = Verified(folder)
    assert tuple(reading) == read_entries(folder)
    assert reading.checked == audit(folder)


@pytest.mark.parametrize("spoiled", [JOURNAL, "clips/000001.flac"])
def test_a_record_read_while_it_is_verified_stops_at_what_is_wrong(
    tmp_path: Path, spoiled: str
) -> None:
    """Nothing from the wrong entry on is yielded, and it is named as the audit names it."""
    folder, _ = sealed_record(tmp_path)
    path = folder / spoiled
    content = path.read_bytes()
    path.write_bytes(content[:-100] + bytes([content[-100] ^ 1]) + content[-99:])
    problem = audit(folder)
    reading, got = Verified(folder), list[Entry]()
    with pytest.raises(RecordDamaged, match="does not verify") as told:
        got.extend(reading)
    assert (told.value.entry, len(got)) == (problem.first_bad, problem.entries)
    assert str(problem.problem) in str(told.value)
