"""What may lie in a small file's place, and what is told of it."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from assistant import packaged
from assistant.errors import BadFile, Finding
from assistant.people import load_shop
from assistant.shop_phrases import PHRASES_FILE, phrase_findings
from assistant.small_files import is_there, read_small


def _refusal(path: Path) -> Finding:
    with pytest.raises(BadFile) as caught:
        read_small(path, 100, "a note")
    (finding,) = caught.value.findings
    assert finding.file == path.as_posix()
    return finding


def test_a_small_file_is_read_as_it_is(tmp_path: Path) -> None:
    """Its text, line ends and all."""
    (tmp_path / "a").write_bytes("é\r\n".encode())
    assert read_small(tmp_path / "a", 100, "a note") == "é\r\n"


def test_what_never_ends_or_never_begins_is_not_opened(tmp_path: Path) -> None:
    """A pipe, a device, a folder and a link in a circle are refused, each by name."""
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "device").symlink_to("/dev/zero")
    (tmp_path / "circle").symlink_to(tmp_path / "circle")
    codes = {name: _refusal(tmp_path / name).code for name in ("pipe", "device", "circle")}
    assert codes == {"pipe": "not-a-file", "device": "not-a-file", "circle": "unreadable"}
    assert _refusal(tmp_path).code == "not-a-file"
    assert _refusal(tmp_path / "none").code == "unreadable"
    assert is_there(tmp_path / "circle")
    assert not is_there(tmp_path / "none")


def test_limits_and_encoding_are_told(tmp_path: Path) -> None:
    """Too many bytes, and the line of the first that is no UTF-8."""
    (tmp_path / "big").write_bytes(b"x" * 101)
    assert (
        "101 bytes long, more than the 100 that a note may have"
        in _refusal(tmp_path / "big").message
    )
    (tmp_path / "latin").write_bytes(b"a\n\xe9\n")
    assert (_refusal(tmp_path / "latin").code, _refusal(tmp_path / "latin").line) == (
        "not-utf-8",
        2,
    )


def test_something_odd_is_not_a_missing_file(tmp_path: Path) -> None:
    """A folder where the shop's file or its phrases belong is told, not passed over."""
    (tmp_path / "shop.yaml").mkdir()
    (tmp_path / PHRASES_FILE).symlink_to("nowhere")
    with pytest.raises(BadFile, match=r"shop\.yaml: error: is not a file"):
        load_shop(tmp_path)
    found = list(phrase_findings(packaged.phrasebook("en"), tmp_path, {}))
    assert [finding.code for finding in found] == ["unreadable"]


def test_a_hundred_findings_are_told_and_the_rest_counted() -> None:
    """A file may have any number of mistakes; a screen holds a hundred."""
    findings = tuple(Finding("error", "x", "a", line, "wrong") for line in range(1, 131))
    told = str(BadFile(findings)).splitlines()
    assert len(told) == 101
    assert told[-1] == "and 30 more"
