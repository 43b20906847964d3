"""`gloveson say`."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.cli import aloud
from assistant.cli.main import main


@pytest.fixture(autouse=True)
def home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A shop without wrenches, whatever this machine has."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    return tmp_path


def test_a_step_is_printed_as_the_voice_gets_it(capsys: pytest.CaptureFixture[str]) -> None:
    """Word by word: no figure and no sign is left."""
    assert main(["say", "battery-replacement", "positive-on", "--text"]) == 0
    printed = capsys.readouterr().out
    assert "Torque five newton meters." in printed
    assert "ten millimeter socket" in printed
    assert not any(sign.isdigit() for sign in printed)


def test_the_same_words_are_spoken(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The voice gets what is printed, line by line; with --text it gets nothing."""
    said: list[str] = []
    monkeypatch.setattr(aloud, "read_out", said.extend)
    assert main(["say", "battery-replacement", "positive-on", "--text"]) == 0
    assert said == []
    capsys.readouterr()
    assert main(["say", "battery-replacement", "positive-on"]) == 0
    assert said == capsys.readouterr().out.splitlines()


def test_the_shops_own_wrench_is_said(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As at the lift: the wrench that the shop has for this torque, with its setting."""
    wrench = "wrenches: [{name: blue wrench, most: 25 N·m, least: 5 N·m}]\n"
    (home / "shop.yaml").write_text(wrench, encoding="utf-8")
    assert main(["say", "battery-replacement", "positive-on", "--text"]) == 0
    assert "blue wrench, set to five newton meters." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("step", "option", "said"),
    [
        ("positiv-on", [], 'did you mean "positive-on"?'),
        ("exchange", [], "has no step"),
    ],
)
def test_a_step_that_is_not_there_is_bad_input(
    step: str, option: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """The message names what there is."""
    assert main(["say", "battery-replacement", step, "--text", *option]) == 2
    assert said in capsys.readouterr().err


def test_a_step_of_other_options_or_of_many_sides_is_told(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The option that it hangs on, or the repeats that there are."""
    file = str(tmp_path / "front-pads.yaml")
    assert main(["new", file]) == 0
    assert main(["say", file, "guard-on", "--option", "guard=no", "--text"]) == 2
    assert "not done with guard=no" in capsys.readouterr().err
    assert main(["say", file, "cover-screws-on", "--text"]) == 2
    assert "cover-screws-on.left, cover-screws-on.right" in capsys.readouterr().err
    assert main(["say", file, "cover-screws-on.left", "--text"]) == 0
    assert "Start the left cover screw by hand" in capsys.readouterr().out
