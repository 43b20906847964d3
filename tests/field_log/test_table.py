"""The table of the field log: every incident once, every test named there really here."""

from __future__ import annotations

import re
from collections import Counter
from functools import cache
from pathlib import Path

_HERE = Path(__file__).parent
_OUTCOMES = ("prevented", "caught when", "not yet", "out of reach")
# How many incidents of each kind the field log counts at its end.
_KINDS = {
    "off-list": 3,
    "wrong-fit": 3,
    "brake": 3,
    "fuel": 2,
    "battery-wiring": 3,
    "routing": 2,
    "torque-tool": 4,
    "reading": 1,
    "hand-over": 2,
    "lost-item": 2,
    "sign-off": 2,
    "record": 3,
    "heard-false": 3,
    "own-voice": 1,
    "heard-number": 3,
    "heard-missed": 3,
    "said-wrong": 1,
    "procedure": 1,
    "support": 1,
}


@cache
def _rows() -> tuple[tuple[str, ...], ...]:
    lines = (_HERE / "table.md").read_text(encoding="utf-8").splitlines()
    cells = [tuple(cell.strip() for cell in line.strip("|").split("|")) for line in lines]
    return tuple(row for row in cells if re.fullmatch(r"A\d\d", row[0]))


def _outcome(row: tuple[str, ...]) -> str:
    (outcome,) = (name for name in _OUTCOMES if row[3].startswith(name))
    return outcome


def _names(row: tuple[str, ...]) -> list[str]:
    return [] if row[5] == "-" else row[5].split(", ")


def _defined(folder: Path) -> set[str]:
    texts = (path.read_text(encoding="utf-8") for path in folder.rglob("test_*.py"))
    return {name for text in texts for name in re.findall(r"^def (test_\w+)", text, re.MULTILINE)}


def test_every_incident_stands_in_the_table_once() -> None:
    """A01 to A43, in order, each with its kind, what happened, outcome, means and tests."""
    assert [row[0] for row in _rows()] == [f"A{number:02d}" for number in range(1, 44)]
    assert Counter(row[1] for row in _rows()) == _KINDS
    assert all(len(row) == 6 and all(row) for row in _rows())
    assert all(3 <= len(row[2].split()) <= 6 for row in _rows())


def test_every_named_test_exists() -> None:
    """A row names tests that are really defined; only what is not there yet may name none."""
    defined = _defined(_HERE.parent)
    for row in _rows():
        assert set(_names(row)) <= defined, row[0]
        assert _names(row) or _outcome(row) in ("not yet", "out of reach"), row[0]


def test_every_scenario_stands_in_the_row_of_its_incident() -> None:
    """A scenario named by an id is named in that row, and in no other."""
    scenarios = {name for name in _defined(_HERE) if re.match(r"test_a\d\d_", name)}
    named = {name for row in _rows() for name in _names(row) if re.match(r"test_a\d\d_", name)}
    assert scenarios == named
    for row in _rows():
        own = f"test_{row[0].lower()}_"
        assert all(n.startswith(own) for n in _names(row) if re.match(r"test_a\d\d_", n)), row[0]


def test_the_counts_are_those_of_the_rows() -> None:
    """The line of counts agrees with the rows below it."""
    text = (_HERE / "table.md").read_text(encoding="utf-8")
    counts = Counter(_outcome(row) for row in _rows())
    told = ", ".join(f"{name} {counts[name]}" for name in _OUTCOMES)
    assert f"Counts: {told}.\n" in text
