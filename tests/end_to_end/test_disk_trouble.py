"""A live job whose disk fails or goes away: it stops aloud, counts nothing, and goes on after."""

from __future__ import annotations

import contextlib
import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from assistant.record.audit import audit
from assistant.record.folder import JOURNAL
from assistant.record.reading import read_entries
from tests.end_to_end.running import NO_LOUDSPEAKER, Live, gloveson, live

_START = ("start", "clutch-cable-adjustment", "--who", "Mara", "--typed", "--job", "one")
_STOPPED = "Stop work. The record cannot be written."
_BACK = "The record can be written again."


def _troubled(home: Path, fail: Callable[[], None], mend: Callable[[], None]) -> None:
    """A job in this home; what is confirmed while the disk fails does not count."""
    folder = home / "jobs" / "one"
    with live(home, *_START, *NO_LOUDSPEAKER) as job:
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
    with live(tmp_path, *_START, *NO_LOUDSPEAKER) as job:
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
    with _ext4(image, jobs):
        with live(tmp_path, *_START, *NO_LOUDSPEAKER) as job:
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


@pytest.mark.parametrize("kind", ["ext4", "tmpfs"])
def test_a_disk_that_is_full(kind: str, tmp_path: Path) -> None:
    """Filled in the middle of a job: stopped, nothing counted; with room again it goes on."""
    jobs = tmp_path / "jobs"
    ballast, journal = jobs / "ballast", jobs / "one" / JOURNAL
    disk = _ext4(tmp_path / "image", jobs) if kind == "ext4" else _tmpfs(jobs)
    with disk, live(tmp_path, *_START, *NO_LOUDSPEAKER) as job:
        assert job.shows("Is it?"), job.screen
        job.type("affirm")
        assert job.shows("Set the machine upright"), job.screen
        _fill(ballast)
        asked = _ask_until_stopped(job)
        kept = _whole(journal)
        seen = len(job.screen)
        job.type("step complete")
        assert job.shows(_STOPPED, after=seen), job.screen
        _refused(tmp_path)
        assert _whole(journal) == kept
        ballast.unlink()
        assert job.shows(_BACK, after=seen), job.screen
        assert journal.read_bytes() == kept
        assert not any("quicker" in line or "Logged" in line for line in job.screen)
        job.type("step complete")
        assert job.shows("quicker"), job.screen
        job.type("affirm")
        assert job.shows("Logged."), job.screen
        assert job.interrupt() == 1
        assert not any("Traceback" in line for line in job.screen)
        entries = read_entries(jobs / "one")
        assert [entry.kind for entry in entries[kept.count(b"\n") :]] == ["heard", "said"] * 2
        answered = sum("Nothing is off." in line for line in job.screen)
        assert answered <= asked
        assert sum("Nothing is off." in str(entry.data) for entry in entries) == answered
        assert audit(jobs / "one").ok


def _fill(ballast: Path) -> None:
    """Leave not a byte."""
    with ballast.open("wb", buffering=0) as file, contextlib.suppress(OSError):
        for size in (4096, 256, 1):
            with contextlib.suppress(OSError):
                while file.write(bytes(size)):
                    pass


def _ask_until_stopped(job: Live) -> int:
    """Ask until the last bytes of the journal's own block are used up; returns how often."""
    for asked in range(1, 30):
        seen = len(job.screen)
        job.type("what is off")
        assert job.shows("", after=seen), job.screen
        if job.shows(_STOPPED, after=seen, timeout_s=0.5):
            return asked
    raise AssertionError(job.screen)


def _whole(journal: Path) -> bytes:
    """The whole lines on the disk; what a write that failed has left of its own is none."""
    content = journal.read_bytes()
    return content[: content.rfind(b"\n") + 1]


def _refused(home: Path) -> None:
    """No other job begins on a full disk; that is said, and is no crash."""
    ran = gloveson(home, *_START[:-1], "two", *NO_LOUDSPEAKER)
    assert ran.code == 1
    assert "No space left on device" in ran.err
    assert "Traceback" not in ran.err
    assert len(ran.err.strip().splitlines()) == 1


@contextlib.contextmanager
def _ext4(image: Path, place: Path) -> Iterator[None]:
    """A small disk mounted here; one that the test has mounted anew meanwhile is unmounted too."""
    image.write_bytes(bytes(4_000_000))
    place.mkdir()
    made = _ran("mkfs.ext4", "-q", "-F", image) and _ran("mount", "-o", "loop", image, place)
    with _mounted(place, made=made):
        yield


@contextlib.contextmanager
def _tmpfs(place: Path) -> Iterator[None]:
    """As `_ext4`, in memory."""
    place.mkdir()
    with _mounted(place, made=_ran("mount", "-t", "tmpfs", "-o", "size=256k", "tmpfs", place)):
        yield


@contextlib.contextmanager
def _mounted(place: Path, *, made: bool) -> Iterator[None]:
    if not made:
        pytest.skip("may not mount a small disk here")
    try:
        yield
    finally:
        _ran("umount", place)


def _ran(*command: str | Path) -> bool:
    try:
        return not subprocess.run(command, check=False, capture_output=True).returncode
    except FileNotFoundError:
        return False
