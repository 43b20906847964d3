"""The lock: one process at a time, freed however a process ends."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

import assistant
from assistant.errors import JobInUse, JournalUnwritable
from assistant.record.lock import lock_job
from tests.record.making import JOB

_HOLDER = """
import sys
from pathlib import Path
from assistant.record.lock import lock_job
lock = lock_job(Path(sys.argv[1]))
print("held", flush=True)
sys.stdin.read()
"""


def test_two_processes(tmp_path: Path) -> None:
    """While another process holds a job it is in use; killed with signal 9, it no longer is."""
    folder = tmp_path / JOB
    environment = {**os.environ, "PYTHONPATH": str(Path(assistant.__file__).parents[1])}
    with subprocess.Popen(
        [sys.executable, "-c", _HOLDER, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        env=environment,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(JobInUse, match=f"job {JOB} is already open"):
            lock_job(folder)
        lock_job(tmp_path / "20260102-030406").release()
        other.send_signal(signal.SIGKILL)
        other.wait()
        lock_job(folder).release()


def test_lock_lies_beside_the_jobs(tmp_path: Path) -> None:
    """Taking a lock makes nothing in the job folder itself."""
    lock = lock_job(tmp_path / JOB)
    assert (tmp_path / ".locks" / f"{JOB}.lock").is_file()
    assert not (tmp_path / JOB).exists()
    lock.release()


def test_no_place_for_locks(tmp_path: Path) -> None:
    """Where the lock can't be made the job can't be written either."""
    (tmp_path / ".locks").touch()
    with pytest.raises(JournalUnwritable, match="lock"):
        lock_job(tmp_path / JOB)


def test_lock_file_that_is_a_link(tmp_path: Path) -> None:
    """A link in the place of the lock file is not followed."""
    (tmp_path / ".locks").mkdir()
    (tmp_path / ".locks" / f"{JOB}.lock").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(JournalUnwritable):
        lock_job(tmp_path / JOB)
    assert not (tmp_path / "elsewhere").exists()
