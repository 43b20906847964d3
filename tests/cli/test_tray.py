"""`gloveson tray`."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from assistant.cli.main import main


def test_the_tray_is_printed_for_the_chosen_options(capsys: pytest.CaptureFixture[str]) -> None:
    """With ABS the tourer's line is on the tray, without it the roadster's."""
    assert main(["tray", "raised-handlebar", "--option", "abs=true"]) == 0
    printed = capsys.readouterr().out
    assert "part number WL-BL-441" in printed
    assert "WL-BL-440" not in printed
    assert "socket: 10 mm" in printed


def test_the_tray_as_json_has_its_four_lists(capsys: pytest.CaptureFixture[str]) -> None:
    """Drivers with sizes and steps, torques, parts and consumables."""
    assert main(["tray", "battery-replacement", "--json"]) == 0
    laid = json.loads(capsys.readouterr().out)
    assert {"drivers", "torques", "parts", "consumables"} <= laid.keys()
    assert laid["drivers"][0].keys() == {"name", "sizes", "steps"}
    assert {"5 N·m"} <= {t["value"] for t in laid["torques"]}


def test_settings_name_the_shop_s_own_wrenches(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The smallest that covers, in its own unit; a torque that none covers is told."""
    wrench = '{name: small wrench, most: "9 lbf·ft", lever: "180 mm", calibrated_until: 2099-01-01}'
    (tmp_path / "shop.yaml").write_text(f"shop: Wren Lane\nroster: {{}}\nwrenches: [{wrench}]\n")
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    assert main(["tray", "battery-replacement"]) == 0
    assert "5 N·m: small wrench, set to 3.7 lbf·ft." in capsys.readouterr().out
    assert main(["tray", "chain-and-sprockets"]) == 0
    printed = capsys.readouterr().out
    assert "100 N·m.\nNo torque wrench of the shop covers this torque.\n" in printed


def test_an_unknown_option_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    """The message names the options that there are."""
    assert main(["tray", "raised-handlebar", "--option", "wings=yes"]) == 2
    assert "abs" in capsys.readouterr().err
