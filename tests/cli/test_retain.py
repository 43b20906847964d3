"""`gloveson retain`, and what the audit says after it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.people import SHOP_FILE
from assistant.record.audit import audit
from assistant.record.retention import RETENTION
from tests.record.making import JOB, open_record, sealed_record

CLIP = "clips/000001.flac"


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop with one sealed job and one that is open."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    sealed_record(tmp_path / "jobs")
    open_record(tmp_path / "jobs", "20260103-000000")
    return tmp_path


def test_all_jobs_by_the_shop_s_rule(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The days stand in shop.yaml; the audit tells a clip removed from one that is missing."""
    (home / SHOP_FILE).write_text("clip_days: 30\n", encoding="utf-8")
    assert main(["retain"]) == 0
    out = capsys.readouterr().out
    assert f"{JOB}: 1 clips removed" in out
    assert "20260103-000000: open" in out
    assert main(["audit", JOB]) == 0
    assert "30 days after the seal: 1" in capsys.readouterr().out
    assert main(["audit", JOB, "--json"]) == 0
    assert [gone["file"] for gone in json.loads(capsys.readouterr().out)["removed"]] == [CLIP]
    (home / "jobs" / JOB / RETENTION).unlink()
    assert main(["audit", JOB]) == 1
    assert f"{CLIP} is missing" in capsys.readouterr().out


def test_one_job_named(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Named jobs alone are touched; JSON says what became of them."""
    assert main(["retain", "20260103-000000", "--days", "0", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == {
        "days": 0,
        "jobs": [{"job": "20260103-000000", "removed": 0, "why_not": "open"}],
        "failed": [],
    }
    assert (home / "jobs" / JOB / CLIP).exists()


def test_a_job_that_fails_does_not_keep_the_others(
    home: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is named, the rest is done, and the exit code tells."""
    broken, _ = sealed_record(home / "jobs", "20260101-000000")
    (broken / CLIP).unlink()
    assert main(["retain", "--days", "1"]) == 1
    told = capsys.readouterr()
    assert "20260101-000000 does not verify" in told.err
    assert f"{JOB}: 1 clips removed" in told.out
    assert audit(home / "jobs" / JOB).ok


@pytest.mark.parametrize("given", [[], ["--days", "-1"], ["--days", "36526"], ["../x", "--days=1"]])
def test_bad_rules_are_refused(home: Path, given: list[str]) -> None:
    """No rule, an impossible one, or no job: exit 2 and nothing removed."""
    assert main(["retain", *given]) == 2
    assert (home / "jobs" / JOB / CLIP).exists()
