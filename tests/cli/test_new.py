"""`gloveson new`."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant import shelf
from assistant.checking import check_file
from assistant.checklist.loader import Loaded
from assistant.cli.main import main


def _made(folder: Path, name: str) -> Loaded:
    assert main(["new", str(folder / name)]) == 0
    return shelf.load_checklist(folder / f"{name}.yaml")


@pytest.mark.parametrize(
    ("name", "title"),
    [
        ("front-pads", "Front pads"),
        ("step-complete", "New checklist"),  # would confirm a step when it is read out
        ("xkcd", "New checklist"),  # the voice has no words for it
        ("no", "No"),  # a bare word of YAML
    ],
)
def test_a_starting_point_passes_the_check(name: str, title: str, tmp_path: Path) -> None:
    """Whatever it is called, nothing is wrong with it, not even a warning."""
    made = _made(tmp_path, name)
    assert (made.checklist.checklist, made.checklist.title) == (name, title)
    assert check_file(str(tmp_path / f"{name}.yaml")).findings == ()


def test_it_shows_what_a_checklist_may_hold(tmp_path: Path) -> None:
    """Every kind of thing that authors write most is there once, or in a comment."""
    _made(tmp_path, "front-pads")
    text = (tmp_path / "front-pads.yaml").read_text(encoding="utf-8")
    for key in ("options", "when", "each", "torque", "source", "off", "back", "readings", "hold",
                "cautions", "hazards", "include", "why", "reopens", "minutes"):  # fmt: skip
        assert f"{key}:" in text
    assert text.count("#") > 20


def test_an_editor_finds_the_schema(tmp_path: Path) -> None:
    """The one beside the file, else the one that came with the program."""
    _made(tmp_path, "one")
    first = (tmp_path / "one.yaml").read_text(encoding="utf-8").splitlines()[0]
    assert Path(first.partition("$schema=")[2]).is_file()
    (tmp_path / "checklist.schema.json").write_text("{}", encoding="utf-8")
    _made(tmp_path, "two")
    first = (tmp_path / "two.yaml").read_text(encoding="utf-8").splitlines()[0]
    assert first == "# yaml-language-server: $schema=checklist.schema.json"


def test_nothing_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that is there stays as it is."""
    file = tmp_path / "front-pads.yaml"
    file.write_text("mine", encoding="utf-8")
    assert main(["new", str(tmp_path / "front-pads")]) == 2
    assert "front-pads.yaml is there already" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == "mine"


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("Front", "front-brake-pads"),
        ("12", "front-brake-pads"),
        ("no/such/place", "can't be written"),
    ],
)
def test_what_can_not_be_written_is_told(
    name: str, said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bad name and a missing folder are bad input, and nothing is made."""
    assert main(["new", str(tmp_path / name)]) == 2
    assert said in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []
