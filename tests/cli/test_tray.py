"""`gloveson tray`."""

from __future__ import annotations

import json

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


def test_an_unknown_option_is_bad_input(capsys: pytest.CaptureFixture[str]) -> None:
    """The message names the options that there are."""
    assert main(["tray", "raised-handlebar", "--option", "wings=yes"]) == 2
    assert "abs" in capsys.readouterr().err
