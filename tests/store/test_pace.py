"""Times of a shop's own finished jobs."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest

from assistant.errors import BadInput
from assistant.store.index import INDEX_FILE
from assistant.store.pace import learned_in
from tests.store.records import played


def test_three_finished_jobs_teach(tmp_path: Path) -> None:
    """The bench confirms a step one second after the least time: 7 s of the usual two minutes."""
    jobs, index = tmp_path / "jobs", tmp_path / INDEX_FILE
    assert learned_in(jobs, index, "small") == {}
    for name in ("one", "two"):
        played(jobs, name, "WREN 7")
    assert learned_in(jobs, index, "small") == {}
    played(jobs, "three", "WREN 8")
    learned = learned_in(jobs, index, "small")
    assert learned["hose-on"] == 0.1
    assert "lever-hold" in learned
    assert learned_in(jobs, index, "another") == {}


def test_a_job_under_way_or_damaged_teaches_nothing(tmp_path: Path) -> None:
    """Only released jobs whose records verify count."""
    jobs, index = tmp_path / "jobs", tmp_path / INDEX_FILE
    for name in ("one", "two", "three"):
        played(jobs, name, "WREN 7")
    journal = jobs / "three" / "journal.jsonl"
    whole = journal.read_bytes()
    journal.write_bytes(whole.replace(b"WREN", b"WREM"))
    assert learned_in(jobs, index, "small") == {}
    lines = whole.splitlines(keepends=True)
    journal.write_bytes(b"".join(lines[: len(lines) // 2]))
    assert learned_in(jobs, index, "small") == {}


def test_an_index_in_use_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Another bay that writes it keeps no job from beginning: the caller goes on without."""
    jobs, index = tmp_path / "jobs", tmp_path / INDEX_FILE
    played(jobs, "one", "WREN 7")
    learned_in(jobs, index, "small")
    played(jobs, "two", "WREN 7")
    monkeypatch.setattr("assistant.store.index.WAIT_S", 0.05)
    other = sqlite3.connect(index)
    other.execute("BEGIN EXCLUSIVE")
    with pytest.raises(BadInput, match="index"):
        learned_in(jobs, index, "small")
    other.rollback()
    other.close()
