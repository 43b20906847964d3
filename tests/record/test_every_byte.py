"""Single changed bytes of a signed record; for every byte: tests.record.every_byte."""

from __future__ import annotations

from pathlib import Path

from assistant.record.audit import audit
from tests.record.every_byte import change_every_byte, signed_record


def test_changed_bytes_are_caught_and_named(tmp_path: Path) -> None:
    """Every 61st byte of journal, clip and copies, changed in eight ways: caught, place named."""
    folder = signed_record(tmp_path)
    rows = change_every_byte(folder, every=61)
    assert {row.file.split("/")[0] for row in rows} == {"journal.jsonl", "clips", "checklist"}
    assert sum(row.changes for row in rows) > 200
    for row in rows:
        assert (row.caught, row.named) == (row.changes, row.changes), row
    assert audit(folder).ok
