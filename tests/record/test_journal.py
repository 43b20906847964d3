"""The journal: what was appended is there, and its tail is read strictly."""

from __future__ import annotations

import hashlib
import math
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
    assert audit(folder).unnamed == (whole.file, "clips/000003.flac")
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
