"""The results file: durable, resumable, and never somebody else's."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from assistant.errors import BadInput
from assistant.rehearing.asked import outcome
from assistant.rehearing.ledger import Ledger, With, key_of

TOOLS = With("pocketsphinx", "en-us", "0.1.0")


def result(n: int, **changed: Any) -> dict[str, Any]:  # noqa: ANN401 - any field
    """A clip's result."""
    made = outcome("step complete", "step_done", (), "accepted")
    return {
        "job": "one", "n": n, "entry": f"{n:064x}", "clip": "clips/000001.flac",
        "engine": TOOLS.engine, "model": TOOLS.model, "program": TOOLS.program,
        "then": made, "now": made, **changed,
    }  # fmt: skip


def test_results_are_found_again(tmp_path: Path) -> None:
    """By a later run, for the same engine, model and program alone."""
    path = tmp_path / "r.jsonl"
    with Ledger(path) as ledger:
        ledger.add([result(1), result(2)])
        assert ledger.get(key_of(result(2))) == result(2)
    with Ledger(path) as ledger:
        assert ledger.get(key_of(result(1))) == result(1)
        assert ledger.get(key_of(result(3))) is None
        for changed in ({"engine": "pair"}, {"model": "x"}, {"program": "9"}):
            assert ledger.get(key_of(result(1, **changed))) is None


def test_cut_off_anywhere_it_goes_on(tmp_path: Path) -> None:
    """At every byte: whole lines stay, a torn one is dropped, and the next is not spoiled by it."""
    path = tmp_path / "r.jsonl"
    with Ledger(path) as ledger:
        ledger.add([result(1)])
    whole = path.read_bytes()
    head = whole.index(b"\n") + 1
    for size in range(0, len(whole) + 1, 7):
        path.write_bytes(whole[:size])
        with Ledger(path) as ledger:
            kept = ledger.get(key_of(result(1)))
            assert (kept is not None) == (size == len(whole))
            ledger.add([result(2)])
        lines = path.read_bytes().splitlines(keepends=True)
        assert lines[0] == whole[:head]
        assert len(lines) == 2 + (size == len(whole))


@pytest.mark.parametrize("content", [b"a song", b'{"what": "else"}\n', b"\x00" * 300])
def test_another_file_is_left_alone(tmp_path: Path, content: bytes) -> None:
    """A name given by mistake costs no file."""
    path = tmp_path / "song.flac"
    path.write_bytes(content)
    with pytest.raises(BadInput, match="no file of this command"):
        Ledger(path)
    assert path.read_bytes() == content


@pytest.mark.parametrize(
    "line",
    [b"[]", b"{}", b"7", b"\xff", b'{"then": 1}', b"[" * 100_000, b'{"then": {}, "now": {}}'],
)
def test_a_wrong_line_is_named(tmp_path: Path, line: bytes) -> None:
    """By file and line; nothing is removed."""
    path = tmp_path / "r.jsonl"
    with Ledger(path) as ledger:
        ledger.add([result(1)])
    content = path.read_bytes() + line + b"\n"
    path.write_bytes(content)
    with pytest.raises(BadInput, match=r"r\.jsonl:3: not a result"):
        Ledger(path)
    assert path.read_bytes() == content


def test_one_run_at_a_time(tmp_path: Path) -> None:
    """Two would write into each other's lines."""
    path = tmp_path / "r.jsonl"
    with Ledger(path), pytest.raises(BadInput, match="another run"):
        Ledger(path)
    with Ledger(path):
        pass
