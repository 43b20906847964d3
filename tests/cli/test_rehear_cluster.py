"""`gloveson rehear --cluster`: a Dask scheduler and a worker that are processes of their own."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.record.clips import read_clip
from assistant.rehearing.asked import asked_of
from assistant.rehearing.worker import engine_named, hear_batch
from tests.job.bench import Bench
from tests.real_parts import require
from tests.rehearing.archive import ENGINE, archived, one_misheard

ROOT = Path(__file__).parents[2]
LONGEST_S = 60
FEW = 16
"""Events of the job; the whole one is heard again in test_rehear.py."""


@pytest.fixture
def scheduler(tmp_path: Path) -> Iterator[str]:
    """Address of a scheduler without a worker, on this machine's own network only."""
    require(
        find_spec("distributed") and find_spec("click"),
        "dask's distributed is not installed; it comes with the extra [archive]",
    )
    file = tmp_path / "scheduler.json"
    with _process(tmp_path, "scheduler", "--port", "0", "--scheduler-file", str(file)):
        until = time.monotonic() + LONGEST_S
        while not file.exists() or not file.read_text(encoding="utf-8").endswith("}"):
            assert time.monotonic() < until, (tmp_path / "scheduler.log").read_text()
            time.sleep(0.05)
        yield json.loads(file.read_text(encoding="utf-8"))["address"]


@pytest.fixture
def cluster(scheduler: str, tmp_path: Path) -> Iterator[str]:
    """Address of a scheduler with one worker."""
    given = ("--no-nanny", "--nthreads", "1", "--local-directory", str(tmp_path / "scratch"))
    with _process(tmp_path, "worker", scheduler, *given):
        yield scheduler


@contextmanager
def _process(logs: Path, what: str, *given: str) -> Iterator[None]:
    """One of Dask's own commands while it is needed."""
    command = [sys.executable, "-m", f"distributed.cli.dask_{what}", "--host", "127.0.0.1"]
    with (logs / f"{what}.log").open("wb") as log:
        process = subprocess.Popen(
            [*command, "--no-dashboard", *given], cwd=ROOT, stdout=log, stderr=log
        )
    try:
        yield
    finally:
        process.kill()
        process.wait()


def _engines() -> tuple[int, int]:
    """Runs in the worker: its process, and how many engines it has loaded."""
    return os.getpid(), engine_named.cache_info().currsize


def test_a_cluster_hears_what_is_heard_here(
    cluster: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Every clip has the result that it has here, and the worker made it."""
    from distributed import Client  # noqa: PLC0415 - the fixture tells when it is missing

    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    folder = archived(tmp_path / "jobs", "one", one_misheard, Bench().finish().events[:FEW])
    asked = list(asked_of(folder, Counter()))
    assert len(asked) > 4, "more clips than go into one task"
    clips = [(one.phrases, read_clip(folder, one.clip)) for one in asked]
    expected = dict(zip([one.n for one in asked], hear_batch(ENGINE, clips).made, strict=True))
    out = tmp_path / "r.jsonl"
    given = ["rehear", "one", "--engine", ENGINE, "--out", str(out), "--json"]
    assert main([*given, "--cluster", cluster]) == 1
    report = json.loads(capsys.readouterr().out)
    assert (report["clips"], report["heard_now"]) == (len(asked), len(asked))
    assert {row["now"]["intent"] for row in report["differs"]} == {"what_torque"}
    lines = [json.loads(line) for line in out.read_text(encoding="utf-8").splitlines()]
    assert {line["n"]: line["now"] for line in lines if "n" in line} == expected
    with Client(cluster) as client:
        ((pid, engines),) = client.run(_engines).values()
    assert pid != os.getpid()
    assert engines == 1


def test_a_scheduler_without_a_worker_is_told(
    scheduler: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Nothing would ever be heard there, and nobody would know why."""
    from assistant.rehearing import run as hearing  # noqa: PLC0415 - loads Dask

    monkeypatch.setattr(hearing, "_REACH_S", 1)
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    archived(tmp_path / "jobs", "one", one_misheard, Bench().finish().events[:FEW])
    given = ["rehear", "--engine", ENGINE, "--out", str(tmp_path / "r.jsonl")]
    assert main([*given, "--cluster", scheduler]) == 2
    assert "no worker" in capsys.readouterr().err
