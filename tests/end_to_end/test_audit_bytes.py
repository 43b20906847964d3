"""One byte changed anywhere in a record: the audit says so and names the place."""

from __future__ import annotations

import json
import random
import shutil
from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.record.folder import JOURNAL
from tests.end_to_end.played import played
from tests.end_to_end.running import gloveson

PLACES = 150


def _files(folder: Path) -> list[str]:
    found = (path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())
    return sorted(found)


def _entry_at(journal: bytes, at: int) -> int:
    """Number of the entry that the byte at this place belongs to."""
    return journal[:at].count(b"\n")


def _audit(folder: Path, capsys: pytest.CaptureFixture[str]) -> tuple[int, dict[str, object]]:
    """Exit code and result of the command, run in this process: a process each is too slow."""
    code = main(["audit", str(folder), "--json"])
    return code, json.loads(capsys.readouterr().out)


def test_any_changed_byte_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """In journal, clips and copies alike: exit code 1, and the entry or the file is named."""
    folder = tmp_path / played().record.name
    shutil.copytree(played().record, folder)
    assert _audit(folder, capsys)[0] == 0
    chance = random.Random(4)  # noqa: S311 - places, not secrets
    files = _files(folder)
    assert {JOURNAL, "clips/000001.flac"} < set(files)
    assert any(name.startswith("checklist/") for name in files)
    chosen = [JOURNAL] * (PLACES // 3) + chance.choices(files, k=PLACES - PLACES // 3)
    for name in chosen:
        path = folder / name
        whole = path.read_bytes()
        at = chance.randrange(len(whole))
        path.write_bytes(
            whole[:at] + bytes([whole[at] ^ chance.randrange(1, 256)]) + whole[at + 1 :]
        )
        code, found = _audit(folder, capsys)
        path.write_bytes(whole)
        assert code == 1, (name, at)
        assert found["ok"] is False
        if name == JOURNAL:
            # A newline lost or won makes one line of two, or two of one: the first is named.
            assert found["first_bad"] == _entry_at(whole, at), (at, found)
        else:
            assert name in str(found["problem"]), found
            assert isinstance(found["first_bad"], int)
    assert _audit(folder, capsys)[0] == 0


def test_the_command_says_which_entry(tmp_path: Path) -> None:
    """A person reads the number of the entry and what is wrong with it."""
    folder = tmp_path / played().record.name
    shutil.copytree(played().record, folder)
    journal = (folder / JOURNAL).read_bytes()
    lines = journal.splitlines(keepends=True)
    lines[7] = lines[7].replace(b'"kind"', b'"kinb"')
    (folder / JOURNAL).write_bytes(b"".join(lines))
    ran = gloveson(tmp_path, "audit", str(folder))
    assert ran.code == 1
    assert ran.out.startswith("NOT ok: entry 7 (line 8)")
    assert "first bad entry: 7" in ran.out
    assert "Traceback" not in ran.out + ran.err


def test_an_account_is_not_made_of_a_record_that_does_not_verify(tmp_path: Path) -> None:
    """`record` refuses a tampered record and says why."""
    folder = tmp_path / played().record.name
    shutil.copytree(played().record, folder)
    clip = folder / "clips/000001.flac"
    clip.write_bytes(clip.read_bytes()[:-1])
    ran = gloveson(tmp_path, "record", str(folder), "--json")
    assert ran.code == 1
    assert ran.out == ""
    assert "clips/000001.flac" in ran.err
    assert "Traceback" not in ran.err
