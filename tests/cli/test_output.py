"""What is printed: nothing in it is obeyed by a terminal, and JSON stays what it was."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.cli.main import main
from assistant.cli.output import answer_json, answer_json_with, harmless
from assistant.errors import RecordDamaged
from assistant.record.entry import genesis, make_entry
from assistant.record.folder import JOURNAL
from assistant.record.keeper import header_in

ESCAPES = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202e\u200b"


@given(st.text())
def test_a_line_holds_no_control(text: str) -> None:
    """Escapes, C1 controls, bidi and zero-width signs become a question mark; text stays."""
    made = harmless(text)
    assert len(made) == len(text)
    assert all(sign.isprintable() or sign in "\n\t" for sign in made)
    assert harmless("Wren Lane\t25 N·m\n") == "Wren Lane\t25 N·m\n"


def test_json_keeps_every_sign(capsys: pytest.CaptureFixture[str]) -> None:
    """They are escaped on the way and come back, those beyond 16 bits too."""
    value = {f"é{ESCAPES}": [ESCAPES, "\U000e0001\udc80", "N·m"]}
    answer_json(value)
    printed = capsys.readouterr().out
    assert all(sign.isprintable() or sign == "\n" for sign in printed)
    assert "N·m" in printed
    assert json.loads(printed) == value


@pytest.mark.parametrize("command", ["check", "tray", "audit", "record", "trial"])
@pytest.mark.parametrize("name", [f"x{ESCAPES}.yaml", "x" * 5000, "a\x00b", "a\udc80b.yaml", "/"])
def test_hostile_names_are_told_and_not_obeyed(
    command: str, name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit 1 or 2 with a message that a terminal shows and doesn't obey."""
    assert main([command, name]) in {1, 2}
    told = capsys.readouterr()
    assert all(sign.isprintable() or sign == "\n" for sign in told.err + told.out)
    assert told.err or told.out


@pytest.mark.parametrize("name", ["apprentices", "wrenches"])
def test_one_hostile_header_does_not_hide_the_other_jobs(
    name: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """A header with a number for a list is damage of that record, wherever it is read."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    head = make_entry(
        0, "job", {name: 7}, wall="2026-01-02T03:04:05.678Z", mono=0.0, prev=genesis("one")
    )
    with pytest.raises(RecordDamaged, match="header"):
        header_in("one", [head])
    (tmp_path / "jobs" / "one").mkdir(parents=True)
    (tmp_path / "jobs" / "one" / JOURNAL).write_bytes(head.line())
    assert main(["jobs"]) == 0
    assert "damaged" in capsys.readouterr().out
    assert main(["jobs", "--vehicle", "\udc80"]) == 2


@pytest.mark.parametrize("rows", [[], [{"n": 0}], [{"n": 0, "lines": ["a\x1b", "b\nc"]}, {}, 3]])
def test_rows_written_as_they_come_are_one_value_with_the_rest(
    rows: list[object], capsys: pytest.CaptureFixture[str]
) -> None:
    """Read back, it is what one piece of JSON would be; nothing in it is obeyed."""
    answer_json_with({"a": [1, {"b": None}]}, "rows", iter(rows))
    told = capsys.readouterr().out
    assert json.loads(told) == {"a": [1, {"b": None}], "rows": rows}
    assert all(sign.isprintable() or sign == "\n" for sign in told)


def test_an_endless_line_is_cut() -> None:
    """A text of megabytes doesn't push everything else off the screen; other lines stay whole."""
    first, second = harmless("x" * 1_000_000 + "\nshort").split("\n")
    assert (len(first) < 3_000, first[-1], second) == (True, "…", "short")
