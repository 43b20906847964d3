"""`gloveson key`, and `gloveson audit --key`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.record.signing import ShopKey
from tests.record.test_signing import PUBLIC, rfc_key, signed_record


def test_a_key_is_made_once_and_shown(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without one it says so; made, it is the same each time; a second is refused."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    assert main(["key"]) == 1
    assert main(["key", "--new", "--json"]) == 0
    made = json.loads(capsys.readouterr().out.partition("\n")[2])
    kept = ShopKey.load(tmp_path)
    assert kept is not None
    assert made["key"] == kept.public
    assert main(["key"]) == 0
    assert main(["key", "--new"]) == 2


def test_an_audit_can_demand_a_key(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Signed with it: ok; with another: not ok, and both are told."""
    folder = signed_record(tmp_path, rfc_key())
    assert main(["audit", str(folder), "--key", PUBLIC]) == 0
    assert "signed, key" in capsys.readouterr().out
    assert main(["audit", str(folder), "--key", "00" * 32, "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert not found["ok"]
    assert PUBLIC in found["problem"]
