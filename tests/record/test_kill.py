"""Killing a writing process at random instants: nothing acknowledged is lost or doubled."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path

import pytest

import assistant
from assistant.record.audit import audit
from assistant.record.chain import Chain, TornLine
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from tests.record.making import JOB

KILLS = 120
_APPENDER = Path(__file__).with_name("appender.py")
_FRESH_EVERY = 20  # a new job now and then keeps the reading short


@pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork, which Windows lacks")
def test_killed_at_random_instants(tmp_path: Path) -> None:
    """After each of 120 kills the job goes on, every acknowledged entry there exactly once."""
    chance = random.Random(20260102)  # noqa: S311 - instants, not secrets
    torn = acknowledged = 0
    for round_ in range(KILLS // _FRESH_EVERY):
        folder = tmp_path / str(round_) / JOB
        with Journal.create(folder):
            pass
        said, torn_here = _kill_many(folder, chance, _FRESH_EVERY)
        torn += torn_here
        acknowledged += len(said)
        with Journal.open(folder) as journal:
            kept = Counter(e.data["number"] for e in journal.entries if e.kind == "event")
        assert set(kept.values()) <= {1}
        assert said <= kept.keys()
        assert audit(folder).ok
    assert acknowledged >= KILLS // 2
    assert torn > 0  # some of the kills came in the middle of a line


def _kill_many(folder: Path, chance: random.Random, kills: int) -> tuple[set[int], int]:
    """Kill children writing to one job; returns what they acknowledged and the torn tails."""
    said: set[int] = set()
    torn = 0
    environment = {**os.environ, "PYTHONPATH": str(Path(assistant.__file__).parents[1])}
    with subprocess.Popen(
        [sys.executable, str(_APPENDER), str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        bufsize=1,
        env=environment,
    ) as server:
        assert server.stdin is not None
        assert server.stdout is not None
        for turn in range(kills):
            server.stdin.write("go\n")
            pid = int(server.stdout.readline().removeprefix("pid "))
            if turn % 2:  # while it opens and repairs, or while it writes away
                time.sleep(chance.uniform(0.0, 0.06))
            else:  # soon after an acknowledgment, so while the next line is being written
                said.add(int(server.stdout.readline()))
                time.sleep(chance.uniform(0.0, 0.006))
            os.kill(pid, signal.SIGKILL)
            while (line := server.stdout.readline()) != "end\n":
                number = int(line)
                assert number not in said
                said.add(number)
            torn += _is_torn(folder)
        server.stdin.close()
    assert server.returncode == 0
    return said, torn


def _is_torn(folder: Path) -> bool:
    with (folder / JOURNAL).open("rb") as file:
        try:
            for _ in Chain(file, JOB):
                pass
        except TornLine:
            return True
    return False
