"""A live job whose disk fails or goes away: it stops aloud, counts nothing, and goes on after."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.record.audit import audit
from assistant.record.reading import read_entries
from tests.end_to_end.running import NO_LOUDSPEAKER, live

_STOPPED = "Stop work. The record cannot be written."
_BACK = "The record can be written again."


def _troubled(home: Path, fail: Callable[[], None], mend: Callable[[], None]) -> None:
    """A job in this home; what is confirmed while the disk fails does not count."""
    folder = home / "jobs" / "one"
    command = ("start", "clutch-cable-adjustment", "--who", "Mara", "--job", "one", "--typed")
    with live(home, *command, *NO_LOUDSPEAKER) as job:
        assert job.shows("Is it?"), job.screen
        count = len(read_entries(folder))
        fail()
        job.type("affirm")
        assert job.shows(_STOPPED), job.screen
        assert not any("Set the machine upright" in line for line in job.screen)
        mend()
        assert job.shows(_BACK), job.screen
        assert len(read_entries(folder)) == count
        job.type("affirm")
        assert job.shows("Set the machine upright"), job.screen
        assert job.interrupt() == 1
        assert not any("Traceback" in line for line in job.screen)
    kinds = [entry.kind for entry in read_entries(folder)]
    assert kinds[count:] == ["heard", "said"]
    assert audit(folder).ok


def test_a_job_folder_taken_away_and_put_back(tmp_path: Path) -> None:
    """Moved away in the middle of a job, it is missed at the next word, and found again."""
    folder, away = tmp_path / "jobs" / "one", tmp_path / "away"
    _troubled(tmp_path, lambda: _move(folder, away), lambda: _move(away, folder))


def test_stopped_while_the_job_folder_is_gone(tmp_path: Path) -> None:
    """Ctrl-C then claims nothing about a record that it can't see."""
    folder = tmp_path / "jobs" / "one"
    command = ("start", "clutch-cable-adjustment", "--who", "Mara", "--job", "one", "--typed")
    with live(tmp_path, *command, *NO_LOUDSPEAKER) as job:
        assert job.shows("Is it?"), job.screen
        _move(folder, tmp_path / "away")
        assert job.interrupt() == 1
        last = job.screen[-1]
    assert last.startswith("stopped; the record is no longer in ")
    assert "kept" not in last
    _move(tmp_path / "away", folder)
    with live(tmp_path, "resume", "one", "--typed", *NO_LOUDSPEAKER) as job:
        assert job.shows("Is it?"), job.screen
        assert job.interrupt() == 1
        assert job.screen[-1].startswith("stopped; everything confirmed is kept.")


def _move(here: Path, there: Path) -> None:
    here.rename(there)


def test_a_disk_that_turns_read_only(tmp_path: Path) -> None:
    """As ext4 does after an error (mount option "abort"): nothing counts; it resumes later."""
    image, jobs = tmp_path / "image", tmp_path / "jobs"
    image.write_bytes(bytes(4_000_000))
    jobs.mkdir()
    made = _ran("mkfs.ext4", "-q", "-F", str(image)) and _ran("mount", "-o", "loop", image, jobs)
    if not made:
        pytest.skip("may not mount an image here")
    command = ("start", "clutch-cable-adjustment", "--who", "Mara", "--job", "one", "--typed")
    try:
        with live(tmp_path, *command, *NO_LOUDSPEAKER) as job:
            assert job.shows("Is it?"), job.screen
            count = len(read_entries(jobs / "one"))
            assert _ran("mount", "-o", "remount,abort", jobs)
            job.type("affirm")
            assert job.shows(_STOPPED), job.screen
            assert job.interrupt() == 1
            assert not any("Traceback" in line for line in job.screen)
        assert _ran("umount", jobs)
        assert _ran("mount", "-o", "loop", image, jobs)
        assert len(read_entries(jobs / "one")) == count
        with live(tmp_path, "resume", "one", "--typed", *NO_LOUDSPEAKER) as job:
            assert job.shows("Is it?"), job.screen
            job.type("affirm")
            assert job.shows("Set the machine upright"), job.screen
            assert job.interrupt() == 1
        assert audit(jobs / "one").ok
    finally:
        _ran("umount", jobs)


def _ran(*command: str | Path) -> bool:
    try:
        return not subprocess.run(command, check=False, capture_output=True).returncode
    except FileNotFoundError:
        return False
