"""A torn last line at the level of the program: what the disk held of it, byte by byte."""

from __future__ import annotations

import hashlib
import io
import os
import shutil
import sys
from dataclasses import dataclass
from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.record.folder import JOURNAL
from assistant.record.reading import read_entries
from tests.end_to_end.running import NO_LOUDSPEAKER

_SILENT = ("--typed", *NO_LOUDSPEAKER)
_EVERY = 1 if os.environ.get("GLOVESON_LONG") else 53
"""Each so many bytes; with GLOVESON_LONG=1 all of them."""


@dataclass
class Shop:
    """The program's commands in this process, with what they print.

    Attributes:
        home: holds the jobs.
    """

    home: Path
    monkeypatch: pytest.MonkeyPatch
    capsys: pytest.CaptureFixture[str]

    def run(self, *arguments: str, typed: tuple[str, ...] = ()) -> tuple[int, str]:
        """A command; its exit code, and all that it printed."""
        lines = "".join(f"{line}\n" for line in typed)
        self.monkeypatch.setattr(sys, "stdin", io.StringIO(lines))
        code = main(arguments)
        told = self.capsys.readouterr()
        assert "Traceback" not in told.err
        return code, told.out + told.err


@pytest.fixture
def shop(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> Shop:
    """A folder of jobs with one that has confirmed a step."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    made = Shop(tmp_path, monkeypatch, capsys)
    typed = ("affirm", "step complete", "affirm")
    start = ("start", "clutch-cable-adjustment", "--who", "Mara", "--job", "one")
    code, told = made.run(*start, *_SILENT, typed=typed)
    assert (code, "Logged." in told) == (1, True)
    return made


def test_torn_at_any_byte_of_the_last_two_entries(shop: Shop) -> None:
    """`audit` names the torn entry; `resume` goes on from the last whole one and tells of it."""
    whole = (shop.home / "jobs" / "one" / JOURNAL).read_bytes()
    lines = whole.splitlines(keepends=True)
    kinds = [entry.kind for entry in read_entries(shop.home / "jobs" / "one")]
    assert kinds[-2:] == ["heard", "said"]  # the confirmation, and its acknowledgement
    start = len(whole) - len(lines[-1]) - len(lines[-2])
    middle = len(whole) - len(lines[-1])
    near = {end + by for end in (start, middle, len(whole)) for by in (-1, 0, 1)}
    cuts = [
        size
        for size in range(start, len(whole) + 1)
        if size in near or (size - start) % _EVERY == 0
    ]
    assert _EVERY > 1 or len(cuts) == len(lines[-1]) + len(lines[-2]) + 1
    shutil.move(shop.home / "jobs" / "one", shop.home / "one")
    for size in cuts:
        _torn(shop, whole[:size])


def _torn(shop: Shop, left: bytes) -> None:
    """The job with no more than this in its journal."""
    folder = shop.home / "jobs" / "one"
    shutil.copytree(shop.home / "one", folder)
    (folder / JOURNAL).write_bytes(left)
    kept = left[: left.rfind(b"\n") + 1]
    count, piece = kept.count(b"\n"), left[len(kept) :]

    code, told = shop.run("audit", "one")
    if piece:
        assert code == 1
        assert f"entry {count} (line {count + 1}) is torn" in told
        assert f"({len(piece)} bytes are there)" in told
        assert f"{count} entries before it verify" in told
    else:
        assert (code, told.startswith(f"ok: {count} entries verify; not sealed")) == (0, True)

    done = kept.count(b'"phrase":"affirm"') - 1  # the first one answered how the machine stands
    code, told = shop.run("resume", "one", *_SILENT, typed=("what is off",))
    assert code == 1
    assert f"We go on with this job. Mara has it. Steps done so far: {done}." in told
    after = (folder / JOURNAL).read_bytes()
    assert after.startswith(kept)
    entries = read_entries(folder)
    assert [entry.n for entry in entries] == list(range(len(entries)))
    repairs = [entry.data for entry in entries if entry.kind == "repaired"]
    dropped = {"bytes": len(piece), "sha256": hashlib.sha256(piece).hexdigest()}
    assert repairs == ([{"job": "one", "dropped": dropped, "unnamed": []}] if piece else [])
    assert entries[count].kind == ("repaired" if piece else "resumed")

    code, told = shop.run("audit", "one")
    assert (code, told.startswith(f"ok: {len(entries)} entries verify; not sealed")) == (0, True)
    assert ("; repaired after a crash 1 x" in told) == bool(piece)
    shutil.rmtree(folder)


@pytest.mark.parametrize("left", [0, 1, 200])
def test_killed_before_the_first_entry(left: int, shop: Shop) -> None:
    """A job that was never begun says so, and what to do; it is neither gone on with nor lost."""
    folder = shop.home / "jobs" / "one"
    (folder / JOURNAL).write_bytes((folder / JOURNAL).read_bytes()[:left])
    assert shop.run("audit", "one")[0] == 1
    for _ in range(2):
        code, told = shop.run("resume", "one", *_SILENT)
        assert code == 1
        assert told.endswith("the job was never begun. Start another one\n")
    start = ("start", "clutch-cable-adjustment", "--who", "Mara")
    code, told = shop.run(*start, "--job", "one", *_SILENT)
    assert code == 2
    assert told.endswith("is not empty; a job is never overwritten: choose another id\n")
    code, told = shop.run(*start, "--job", "two", *_SILENT)
    assert (code, "Go on with: gloveson resume two" in told) == (1, True)
