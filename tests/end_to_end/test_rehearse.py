"""`gloveson rehearse` and what other tools rely on in the JSON of every command."""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
import soundfile

from assistant.record.clips import read_clip
from tests.end_to_end.played import CHECKLIST, played
from tests.end_to_end.running import ROOT, gloveson

Shape = Mapping[str, Any]

# The shapes that the product's description promises: a type, a tuple of types, a shape inside,
# or a list of one of these. Fields may be added to what is printed; these stay.
NUMBER = (int, float, type(None))
COUNT = int
REHEARSE: Shape = {
    "job": str,
    "status": str,
    "engine": str,
    "checklist": {"id": str, "version": str, "sha256": str},
    "steps": {"total": COUNT, "confirmed": COUNT, "left_out": COUNT},
    "safety_stops": {"met": COUNT, "passed": COUNT},
    "commands": {"spoken": COUNT, "understood": COUNT, "asked_again": COUNT, "wrong": COUNT},
    "latency_ms": {"median": NUMBER, "p95": NUMBER},
    "open": {"off": COUNT, "hazards": COUNT, "troubles": COUNT, "readings": COUNT},
    "record": str,
    "seal": str,
}
FINDING: Shape = {"level": str, "code": str, "line": COUNT, "message": str, "path": [str]}
CHECK: Shape = {
    "file": str,
    "ok": bool,
    "findings": [FINDING],
    "steps": COUNT,
    "paths_proved": COUNT,
    "states_explored": COUNT,
}
AUDIT: Shape = {
    "ok": bool,
    "entries": COUNT,
    "first_bad": (int, type(None)),
    "problem": (str, type(None)),
    "seal": (str, type(None)),
    "signed": bool,
}
RECORD: Shape = {
    "job": str,
    "vehicle": str,
    "people": [dict],
    "checklist": dict,
    "status": str,
    "timeline": [dict],
    "readings": [dict],
    "torques": [dict],
    "troubles": [dict],
    "left_out": [dict],
    "safety_stops": [dict],
    "seal": (str, type(None)),
}


def misfit(value: object, shape: Any, where: str = "") -> str:  # noqa: ANN401 - a shape, see above
    """Where a value has another shape than promised; "" when it fits."""
    if isinstance(shape, Mapping):
        if not isinstance(value, dict):
            return f"{where} is no object"
        if missing := shape.keys() - value.keys():
            return f"{where} lacks {', '.join(sorted(missing))}"
        inner = (misfit(value[key], wanted, f"{where}.{key}") for key, wanted in shape.items())
        return next(filter(None, inner), "")
    if isinstance(shape, list):
        if not isinstance(value, list):
            return f"{where} is no list"
        return next(filter(None, (misfit(one, shape[0], f"{where}[]") for one in value)), "")
    kinds = shape if isinstance(shape, tuple) else (shape,)
    truth = isinstance(value, bool) and bool not in kinds  # in Python a truth value is an int too
    return f"{where} is {value!r}" if truth or not isinstance(value, kinds) else ""


@pytest.mark.parametrize(
    ("value", "fits"),
    [
        ({"level": "error", "code": "x", "line": 1, "message": "m", "path": []}, True),
        ({"level": "error", "code": "x", "line": 1, "message": "m", "path": [], "more": 1}, True),
        ({"level": "error", "code": "x", "line": True, "message": "m", "path": []}, False),
        ({"level": "error", "code": "x", "line": 1, "message": "m", "path": [3]}, False),
        ({"level": "error", "code": "x", "line": 1, "message": "m"}, False),
    ],
)
def test_the_shape_test_can_fail(value: object, fits: bool) -> None:
    """A missing key, a truth value for a number and a wrong element are found."""
    assert (misfit(value, FINDING) == "") == fits


def test_a_job_is_rehearsed_to_its_release() -> None:
    """The rehearsal ends released, nothing misheard, nothing left off, and the audit says ok."""
    ran = played().ran
    assert ran.code == 0, ran.err[-2000:]
    result = played().result
    assert misfit(result, REHEARSE) == ""
    assert result["status"] == "released"
    assert result["commands"]["wrong"] == 0
    assert result["open"] == {"off": 0, "hazards": 0, "troubles": 0, "readings": 0}
    assert result["steps"]["confirmed"] == result["steps"]["total"] == 11
    assert result["safety_stops"]["met"] == result["safety_stops"]["passed"] >= 1
    assert result["audit"]["ok"] is True


def test_most_lines_are_understood_by_ear() -> None:
    """The rehearsal is no play by keys: nearly every line is understood as it is spoken."""
    said = played().result["commands"]
    assert said["understood"] + said["asked_again"] == said["spoken"]
    assert said["understood"] > 5 * said["by_keys"]


def test_people_read_on_stderr() -> None:
    """The dialogue goes to stderr; stdout holds the JSON and nothing else."""
    ran = played().ran
    assert "Mara: affirm" in ran.err
    assert "assistant: The job is released." in ran.err
    assert ran.out.startswith("{\n")
    assert ran.out.endswith("}\n")
    assert "Traceback" not in ran.err


def test_the_rehearsal_can_be_listened_to() -> None:
    """Beside the record lies what a person would have heard: minutes of sound, not silence."""
    heard = soundfile.info(played().result["heard"])
    assert heard.duration > 60
    samples, _ = soundfile.read(played().result["heard"], dtype="int16")
    assert abs(samples.astype(int)).max() > 3000


def test_audit_of_the_rehearsal() -> None:
    """`audit` by folder and by id agrees with what the rehearsal printed."""
    job = played()
    ran = gloveson(job.home, "audit", str(job.record), "--json")
    assert ran.code == 0
    found = ran.json()
    assert misfit(found, AUDIT) == ""
    assert found["ok"] is True
    assert found["seal"] == job.result["seal"]
    assert (found["first_bad"], found["problem"], found["signed"]) == (None, None, False)
    assert ran.err == ""
    told = gloveson(job.home, "audit", str(job.record))
    assert told.out.startswith(f"ok: {found['entries']} entries verify; sealed, fingerprint ")


def test_audit_finds_a_job_by_its_id(tmp_path: Path) -> None:
    """A job among the user's own is found by its id, and under another's id it is refused."""
    jobs = tmp_path / "jobs"
    shutil.copytree(played().record, jobs / played().record.name)
    shutil.copytree(played().record, jobs / "another")
    assert gloveson(tmp_path, "audit", played().record.name).code == 0
    assert gloveson(tmp_path, "audit", "another").code == 1


def test_record_of_the_rehearsal() -> None:
    """`record --json` tells the job: steps, readings within limits, torques, stops, clips."""
    job = played()
    ran = gloveson(job.home, "record", str(job.record), "--json")
    assert ran.code == 0
    account = ran.json()
    assert misfit(account, RECORD) == ""
    assert account["job"] == job.result["job"]
    assert account["status"] == "released"
    assert account["seal"] == job.result["seal"]
    assert account["clock_set"] == []
    assert [person["name"] for person in account["people"]] == ["Mara"]
    assert {reading["name"] for reading in account["readings"]} == {
        "clutch free play as found",
        "clutch free play at the perch",
    }
    assert all(reading["within"] for reading in account["readings"])
    assert len(account["safety_stops"]) == job.result["safety_stops"]["passed"]
    clips = [entry["clip"] for entry in account["timeline"] if entry.get("clip")]
    assert len(clips) >= job.result["commands"]["understood"]
    assert all(len(read_clip(job.record, clip)) > 3200 for clip in clips[:5])
    assert ran.err == ""


def test_the_account_can_be_read() -> None:
    """`record` prints one readable account: who, what, when, readings against their limits."""
    job = played()
    ran = gloveson(job.home, "record", str(job.record))
    assert ran.code == 0
    for line in (
        f"Job {job.result['job']}: released",
        "People: Mara",
        "Checklist: Clutch cable adjustment, version 1.0.0",
        "within limits",
        "Safety stops:",
        f"Seal: {job.result['seal']}",
    ):
        assert line in ran.out


def test_check_prints_its_findings() -> None:
    """`check --json` prints a list with one element a file, and nothing on stderr."""
    ran = gloveson(played().home, "check", CHECKLIST, "battery-replacement", "--json")
    assert ran.code == 0
    checked = ran.json()
    assert misfit(checked, [CHECK]) == ""
    assert [one["ok"] for one in checked] == [True, True]
    assert all(one["paths_proved"] >= 1 and one["states_explored"] > 1 for one in checked)
    assert ran.err == ""


def test_check_names_every_mistake_with_its_line() -> None:
    """A checklist with ten different mistakes: ten findings with their lines, and no traceback."""
    file = ROOT / "tests/checklist/data/ten_mistakes.yaml"
    ran = gloveson(played().home, "check", str(file))
    assert ran.code == 1
    assert "Traceback" not in ran.out + ran.err
    found = gloveson(played().home, "check", str(file), "--json").json()
    assert misfit(found, [CHECK]) == ""
    findings = found[0]["findings"]
    assert len(findings) >= 10
    assert len({finding["code"] for finding in findings}) >= 8
    lines = file.read_text(encoding="utf-8").splitlines()
    for finding in findings:
        assert 1 <= finding["line"] <= len(lines)
        assert f"{file}:{finding['line']}: error: " in ran.out
