"""`gloveson rehear`: over processes, killed and taken up again, and what it refuses."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from assistant.cli.main import main
from assistant.record.clips import read_clip
from assistant.rehearing import run as hearing
from assistant.rehearing.asked import asked_of
from assistant.rehearing.ledger import Ledger
from assistant.rehearing.worker import hear_batch
from tests.rehearing.archive import ENGINE, archived, one_misheard

LONGEST_S = 300


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A shop with two archived jobs; in one something was misheard."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    archived(tmp_path / "jobs", "one", one_misheard)
    archived(tmp_path / "jobs", "two")
    return tmp_path


def tree(folder: Path) -> dict[str, bytes]:
    """Every file under a folder."""
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def one_go(home: Path) -> dict[tuple[str, int], Any]:
    """What every clip is now, heard here one after the other."""
    folder = home / "jobs" / "one"
    asked = list(asked_of(folder, Counter()))
    made = hear_batch(ENGINE, [(one.phrases, read_clip(folder, one.clip)) for one in asked]).made
    return {(one.job, one.n): now for one, now in zip(asked, made, strict=True)}


def started(*given: str) -> subprocess.Popen[str]:
    """The command in a process group of its own."""
    return subprocess.Popen(
        [sys.executable, "-m", "assistant.cli.main", "rehear", "--engine", ENGINE, *given],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip


def test_killed_in_the_middle_it_goes_on(home: Path) -> None:
    """Two processes, kill -9 after the first results, a torn line: the same as in one go."""
    out, before = home / "r.jsonl", tree(home / "jobs")
    given = ("one", "--processes", "2", "--out", str(out))
    with started(*given) as run:
        until = time.monotonic() + LONGEST_S
        while not (out.exists() and out.read_bytes().count(b"\n") > 1):
            assert run.poll() is None, run.communicate()
            assert time.monotonic() < until
            time.sleep(0.005)
        os.killpg(run.pid, signal.SIGKILL)
    expected = one_go(home)
    done = out.read_bytes().count(b"\n") - 1
    assert 0 < done < len(expected)
    with out.open("ab") as file:
        file.write(b'{"job": "one", "n"')
    with started(*given, "--json") as run:
        told, said = run.communicate(timeout=LONGEST_S)
    assert run.returncode == 1, said
    report = json.loads(told)
    assert (report["clips"], report["heard_now"]) == (len(expected), len(expected) - done)
    lines = [json.loads(line) for line in out.read_text(encoding="utf-8").splitlines()[1:]]
    assert len(lines) == len(expected)
    assert {(line["job"], line["n"]): line["now"] for line in lines} == expected
    assert {row["now"]["intent"] for row in report["differs"]} == {"what_torque"}
    (number,) = report["safety_read_backs"]
    assert ["challenge", "16"] in number["now"]["slots"]
    assert ["challenge", "16"] not in number["then"]["slots"]
    assert report["same"] + len(report["differs"]) + 1 == report["clips"]
    assert tree(home / "jobs") == before | {
        name: b"" for name in tree(home / "jobs") if name.startswith(".locks/")
    }


def test_nothing_differs(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit 0 when every clip has the same result; what is in the file is not heard again."""
    out = home / "r.jsonl"
    tools = hearing.what_with(ENGINE)
    with Ledger(out) as ledger:
        for asked in asked_of(home / "jobs" / "two", Counter()):
            ledger.add([
                {"job": asked.job, "n": asked.n, "entry": asked.entry, "clip": asked.clip,
                 "engine": tools.engine, "model": tools.model, "program": tools.program,
                 "then": asked.then, "now": asked.then}
            ])  # fmt: skip
    assert main(["rehear", "two", "--engine", ENGINE, "--processes=1", "--out", str(out)]) == 0
    told = capsys.readouterr().out
    assert "(0 heard now)" in told
    assert "0 differ, 0 safety read-backs differ" in told


@pytest.mark.parametrize(
    ("given", "said"),
    [
        (["--processes", "0"], "1 or more"),
        (["--engine", "nobody"], "no engine"),
        (["no-such-job"], "no-such-job"),
        (["--cluster", "tcp://127.0.0.1:9"], "no scheduler answers"),
        (["--cluster", "nonsense://x"], "no scheduler answers"),
    ],
)
def test_bad_input(
    home: Path,
    given: list[str],
    said: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Exit 2, and what is wrong."""
    monkeypatch.setattr(hearing, "_REACH_S", 1)
    out = str(home / "r.jsonl")
    assert main(["rehear", "--engine", ENGINE, "--out", out, *given]) == 2
    assert said in capsys.readouterr().err
