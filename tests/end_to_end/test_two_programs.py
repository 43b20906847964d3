"""Two programs on one job: the second is told so, ends with 2, and writes nothing."""

from __future__ import annotations

from pathlib import Path

from assistant.record.audit import audit
from tests.end_to_end.running import NO_LOUDSPEAKER, gloveson, live

_START = ("start", "clutch-cable-adjustment", "--who", "Mara", "--job", "one", "--typed")


def test_a_second_program_is_refused(tmp_path: Path) -> None:
    """Neither resuming nor starting the job again touches the record of the one at work."""
    folder = tmp_path / "jobs" / "one"
    with live(tmp_path, *_START, *NO_LOUDSPEAKER) as job:
        assert job.shows("Is it?"), job.screen
        before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
        for command in (("resume", "one", "--typed"), _START):
            second = gloveson(tmp_path, *command, *NO_LOUDSPEAKER)
            assert second.code == 2
            assert "already open in another window or program" in second.err
            assert "Traceback" not in second.err
            assert {p: p.read_bytes() for p in folder.rglob("*") if p.is_file()} == before
        job.type("affirm")
        assert job.shows("Set the machine upright"), job.screen
        job.kill()
    assert audit(folder).ok
