"""Exports, read back by programs that share no code with what wrote them."""

from __future__ import annotations

import csv
import io
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from assistant.errors import BadInput
from assistant.store import export
from assistant.store.export import COLUMNS, write_csv, write_parquet

ROW: dict[str, Any] = {
    **dict.fromkeys(COLUMNS),
    "id": "bay_1/one",
    "vehicle": "tag 17 ü 漢",
    "began": "2026-03-02T10:00:00.250Z",
}


def read(path: Path) -> tuple[dict[str, str], dict[str, list[Any]]]:
    """Types and columns of a Parquet file, by the Rust implementation (pyarrow's is in C++)."""
    from arro3.io import read_parquet  # noqa: PLC0415 - a test's own need

    table = read_parquet(path).read_all()
    return (
        {name: str(table.schema.field(name).type) for name in table.column_names},
        {
            name: [table[name][row].as_py() for row in range(table.num_rows)]
            for name in table.column_names
        },
    )


def test_another_reader_finds_the_same_in_a_parquet_file(tmp_path: Path) -> None:
    """Text as text, times as times in UTC, what is unknown as null."""
    path = tmp_path / "jobs.parquet"
    write_parquet([ROW, {**ROW, "id": "bay_1/two", "began": None, "vehicle": "=1+1"}], path)
    types, columns = read(path)
    assert tuple(types) == COLUMNS
    assert "Timestamp" in types["began"]
    assert "UTC" in types["began"]
    assert columns["id"] == ["bay_1/one", "bay_1/two"]
    assert columns["vehicle"] == ["tag 17 ü 漢", "=1+1"]  # no spreadsheet, so nothing is added
    assert columns["began"] == [datetime(2026, 3, 2, 10, 0, 0, 250_000, tzinfo=UTC), None]
    assert columns["problem"] == [None, None]
    assert [found.name for found in tmp_path.iterdir()] == ["jobs.parquet"]


def test_no_jobs_make_a_file_with_columns(tmp_path: Path) -> None:
    """So that what reads it finds its columns."""
    write_parquet([], tmp_path / "none.parquet")
    types, columns = read(tmp_path / "none.parquet")
    assert tuple(types) == COLUMNS
    assert columns["id"] == []


def test_what_keeps_parquet_from_being_written_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A folder that is not there; the library that is not installed."""
    with pytest.raises(BadInput, match="can't be written"):
        write_parquet([ROW], tmp_path / "none" / "jobs.parquet")
    monkeypatch.setattr(export, "find_spec", lambda _name: None)
    with pytest.raises(BadInput, match=r"pip install gloves-on\[export\]"):
        write_parquet([ROW], tmp_path / "jobs.parquet")


def test_a_time_that_is_none_is_told(tmp_path: Path) -> None:
    """Whoever wrote into the index past all checks gets a message, and no file is left."""
    with pytest.raises(BadInput, match=r"began 'not a \?time' is no time"):
        write_parquet([{**ROW, "began": "not a \x1btime"}], tmp_path / "jobs.parquet")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("sign", ["=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠"])
def test_no_cell_begins_like_a_formula(sign: str) -> None:
    """The signs are those of OWASP's page "CSV Injection", the full-width ones among them."""
    text = io.StringIO()
    write_csv([{**ROW, "vehicle": f"{sign}cmd|' /C calc'!A0"}], text)
    (row,) = csv.DictReader(io.StringIO(text.getvalue()))
    assert not row["vehicle"].startswith(sign)
    assert row["vehicle"].lstrip("'?").removeprefix(sign) == "cmd|' /C calc'!A0"


def test_a_cell_cannot_be_cut_into_two() -> None:
    """A spreadsheet that separates at semicolons finds quotes around each cell (RFC 4180)."""
    text = io.StringIO()
    write_csv([{**ROW, "vehicle": 'a;=1+1;"b"'}], text)
    assert '"a;=1+1;""b"""' in text.getvalue()
    assert all(line.startswith('"') for line in text.getvalue().splitlines())
