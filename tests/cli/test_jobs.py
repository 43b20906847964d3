"""`gloveson jobs`."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from assistant.cli.main import main
from tests.store.records import played


def test_jobs_are_listed_in_three_forms(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Lines, JSON and CSV; no spreadsheet takes a vehicle's name for a formula."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    played(tmp_path / "jobs", "one", "=1+1\x1b[31m")
    assert main(["jobs", "--vehicle", "1+1"]) == 0
    assert "\x1b" not in capsys.readouterr().out
    assert main(["jobs", "--json"]) == 0
    (found,) = json.loads(capsys.readouterr().out)
    assert (found["id"], found["status"], found["checklist"]) == ("one", "released", "small")
    assert main(["jobs", "--csv"]) == 0
    (row,) = csv.DictReader(io.StringIO(capsys.readouterr().out))
    assert row["vehicle"].startswith("'=")
    assert main(["jobs", "--person", "nobody"]) == 0
    assert capsys.readouterr().out == "0 jobs\n"


def test_jobs_go_into_a_parquet_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What tests/store/test_export.py reads back; the command says how many jobs it holds."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    played(tmp_path / "jobs", "one", "WREN 7")
    file = tmp_path / "jobs.parquet"
    assert main(["jobs", "--parquet", str(file)]) == 0
    assert capsys.readouterr().out == f"1 jobs in {file}\n"
    assert file.read_bytes()[:4] == b"PAR1"
    assert main(["jobs", "--parquet", str(tmp_path / "none" / "jobs.parquet")]) == 2
