"""Who works here: the shop's file and the names on the command line."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from assistant.errors import BadFile, BadInput
from assistant.people import SHOP_FILE, Shop, load_shop, person_id, roster_with

SHOP = """\
shop: Wren Lane Cycle Works
roster:
  mara: Mara
  ines: Ines
  tobin: Tobin
"""


def _shop(home: Path, text: str) -> Shop:
    (home / SHOP_FILE).write_text(text, encoding="utf-8")
    return load_shop(home)


def test_the_shop_file_names_its_people(tmp_path: Path) -> None:
    """Ids and display names come from the shop's own file."""
    shop = _shop(tmp_path, SHOP)
    assert shop.shop == "Wren Lane Cycle Works"
    assert shop.roster == {"mara": "Mara", "ines": "Ines", "tobin": "Tobin"}


@pytest.mark.parametrize("text", [None, "", "# nothing yet\n"])
def test_a_shop_without_a_file_has_no_roster(text: str | None, tmp_path: Path) -> None:
    """A missing or empty file is a shop without names, not an error."""
    assert (load_shop(tmp_path) if text is None else _shop(tmp_path, text)) == Shop()


@pytest.mark.parametrize(
    ("text", "line", "said"),
    [
        ("roster: [mara]\n", 1, "roster"),
        ("roster:\n  mara: Mara\n  Ines: Ines\n", 3, "roster.Ines"),
        ("roster:\n  mara: 'Mara 2'\n", 2, "roster.mara"),
        ("roster:\n  mara: '<b>Mara</b>'\n", 2, "roster.mara"),
        ("roster:\n  mara: 7\n", 2, "quotes"),
        ("shop: Wren Lane\nstaff: {}\n", 2, "staff"),
        ("roster: {mara: Mara\n", 2, "YAML"),
        ("roster: &a {mara: Mara}\n", 1, "anchors"),
        ("roster: !!python/name:os.system\n", 1, "tags"),
        ("mara\n", 1, "the file"),
        ("- mara\n", 1, "the file"),
    ],
)
def test_what_is_wrong_is_told_with_its_line(
    text: str, line: int, said: str, tmp_path: Path
) -> None:
    """A mistake in the shop file is a finding with file and line."""
    with pytest.raises(BadFile) as problem:
        _shop(tmp_path, text)
    assert f"{SHOP_FILE}:{line}: error: " in str(problem.value)
    assert said in str(problem.value)


def test_a_shop_file_of_another_kind_is_refused(tmp_path: Path) -> None:
    """Too big, or no UTF-8: refused with the name of the file."""
    with pytest.raises(BadInput, match="65,536"):
        _shop(tmp_path, "# " + "x" * 70_000)
    (tmp_path / SHOP_FILE).write_bytes(b"shop: \xff\n")
    with pytest.raises(BadFile, match=SHOP_FILE):
        load_shop(tmp_path)


@pytest.mark.parametrize(
    ("name", "wanted"), [("Mara", "mara"), (" mara ", "mara"), ("Mary Ann", "mary-ann")]
)
def test_an_id_for_a_name(name: str, wanted: str) -> None:
    """The id is the name in small letters, blanks as hyphens."""
    assert person_id(name) == wanted


@pytest.mark.parametrize("name", ["", " ", "../mara", "m\x1bara", "-mara", "x" * 33, "7", "a/b"])
def test_what_can_be_no_id(name: str) -> None:
    """Paths, control characters, emptiness and endless names are refused."""
    with pytest.raises(BadInput):
        person_id(name)


def test_the_roster_grows_by_who_is_named() -> None:
    """A name on the command line joins the roster; who is there keeps the name of the file."""
    shop = Shop(roster={"mara": "Mara the first"})
    assert roster_with(shop, "mara", "ines", None) == {"mara": "Mara the first", "ines": "Ines"}
    assert shop.roster == {"mara": "Mara the first"}


def test_a_name_with_figures_cannot_be_called_out() -> None:
    """A new name must be sayable, so figures are refused; an id of the file may have some."""
    with pytest.raises(BadInput, match="no digits"):
        roster_with(Shop(), "Mara2")
    assert roster_with(Shop(roster={"mara2": "Mara"}), "mara2") == {"mara2": "Mara"}


def test_a_shop_has_torque_wrenches_with_their_calibration(tmp_path: Path) -> None:
    """Range, lever and the day their calibration ends are read; that day still counts."""
    (tmp_path / "shop.yaml").write_text(
        "wrenches:\n"
        '  - {name: short wrench, most: "25 N·m", lever: "200 mm", calibrated_until: 2026-11-25}\n'
    )
    (found,) = load_shop(tmp_path).wrenches
    assert not found.for_job(date(2026, 11, 25)).past_calibration
    assert found.for_job(date(2026, 11, 26)).past_calibration


@pytest.mark.parametrize(
    "text",
    [
        'wrenches: [{name: w, most: "25 mm"}]\n',
        'wrenches: [{name: w, most: "25 N·m", least: "30 N·m"}]\n',
        'wrenches: [{name: w, most: "25 N·m", calibrated_until: soon}]\n',
    ],
)
def test_what_is_no_torque_wrench_is_refused_with_its_line(tmp_path: Path, text: str) -> None:
    """A length, a range that ends before it begins, a day that is none."""
    (tmp_path / "shop.yaml").write_text(text)
    with pytest.raises(BadFile) as raised:
        load_shop(tmp_path)
    assert raised.value.findings[0].line == 1
