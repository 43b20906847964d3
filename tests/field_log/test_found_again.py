"""Field log, replayed: what must be found later in all records (A20, A42)."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.job.state import ShopWrench
from assistant.trade.quantity import Quantity
from assistant.trade.wrenches import TorqueWrench
from tests.job.bench import ALL_HAZARDS
from tests.store.records import played


def _wrench(name: str) -> ShopWrench:
    return ShopWrench(TorqueWrench(name, Quantity.parse("25 N·m")))


def _found(capsys: pytest.CaptureFixture[str], *asked: str) -> set[str]:
    assert main(["jobs", "--json", *asked]) == 0
    return {row["id"] for row in json.loads(capsys.readouterr().out)}


def test_a20_every_job_that_a_bad_wrench_was_used_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Caught later: a wrench found out of true leads to every job that it was used for."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    played(tmp_path / "jobs", "one", "WREN 7", wrenches=[_wrench("old wrench")])
    played(tmp_path / "jobs", "two", "WREN 8", wrenches=[_wrench("new wrench")])
    played(tmp_path / "jobs", "three", "WREN 9")
    assert _found(capsys, "--wrench", "old wrench") == {"one"}
    assert _found(capsys, "--wrench", "WRENCH") == {"one", "two"}
    assert _found(capsys, "--wrench", "%") == set()
    assert main(["record", "one", "--json"]) == 0
    (torque,) = json.loads(capsys.readouterr().out)["torques"]
    assert (torque["wrench"], torque["set_to"]) == ("old wrench", "22 N·m")


def test_a42_every_job_under_the_old_card(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Caught later: when the text changes, the jobs run under the old one are found.

    The text of the file decides, not the version that its author remembered to raise.
    """
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    card = tmp_path / "small.yaml"
    card.write_text(ALL_HAZARDS, encoding="utf-8")
    played(tmp_path / "jobs", "old", "WREN 7", checklist=card)
    assert _found(capsys, "--old-checklist") == set()
    changed = ALL_HAZARDS.replace('"22 N·m"', '"23 N·m"')
    assert changed != ALL_HAZARDS
    card.write_text(changed, encoding="utf-8")
    played(tmp_path / "jobs", "new", "WREN 8", checklist=card)
    assert _found(capsys, "--old-checklist") == {"old"}
    assert _found(capsys, "--old-checklist", "--vehicle", "WREN 8") == set()


@pytest.mark.parametrize("left", [None, "not: [a, checklist\n", "\x00"])
def test_a_checklist_that_is_gone_is_told(
    left: str | None,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Where no file can be read any more, nothing is claimed of its jobs, and that is said."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    card = tmp_path / "small.yaml"
    card.write_text(ALL_HAZARDS, encoding="utf-8")
    played(tmp_path / "jobs", "one", "WREN 7", checklist=card)
    card.unlink()
    if left is not None:
        card.write_text(left, encoding="utf-8")
    assert main(["jobs", "--old-checklist"]) == 0
    told = capsys.readouterr()
    assert told.out == "0 jobs\n"
    assert "checklist small" in told.err
