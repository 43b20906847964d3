"""A live job by voice through a real sound server: commands played in, prompts captured."""

from __future__ import annotations

from pathlib import Path

from assistant.record.audit import audit
from assistant.record.clips import read_clip
from tests.end_to_end.live_sound import Bay, echoing, from_microphone, sounding
from tests.end_to_end.running import live
from tests.virtual_sound import virtual_sound


def test_a_job_by_voice(tmp_path: Path) -> None:
    """Three commands by voice are understood, answered aloud, on record; no echo is a command."""
    (tmp_path / "sound").mkdir()
    command = ["start", "clutch-cable-adjustment", "--who", "Mara", "--job", "loud"]
    with (
        virtual_sound(tmp_path / "sound") as sound,
        echoing(sound),
        live(tmp_path, *command, "--rate", "300", extra=sound.environment) as job,
    ):
        bay = Bay(job, sound, tmp_path / "jobs" / "loud")
        with sound.listen() as greeting:
            assert job.shows("How is the machine held?"), job.screen
            assert sounding(from_microphone(sound, 2.0)) > 0.5, "there is no echo to be deaf to"
            bay.wait_until_silent()
        assert sounding(greeting.pcm) > 2.0

        first_step = bay.say("affirm", "affirm")
        assert sounding(first_step) > 3.0
        assert job.shows("Set the machine upright")

        answered = bay.say("where are we", "where_are_we")
        assert sounding(answered) > 1.0
        assert job.shows("Step 1 of 11")

        bay.say("step complete", "step_done")
        if job.shows("That was quicker", timeout_s=0.5):
            bay.say("affirm", "affirm")
        assert job.shows("Select neutral")

        on_record = bay.entries("heard", "unclear")
        # Every prompt went into the microphone too: whatever was heard was said by the person.
        assert len(on_record) <= bay.spoken
        assert set(bay.heard()) <= {"affirm", "where_are_we", "step_done"}
        assert {data["via"] for data in bay.entries("heard")} == {"voice"}
        for data in on_record:
            sound_of_it = read_clip(bay.folder, data["clip"]["file"])
            assert sounding(sound_of_it) > 0.2
            assert data["clip"]["seconds"] < 4

        sound.stop()
        assert job.shows("I have lost the microphone"), job.screen
        assert job.interrupt() == 1
    assert any("gloveson resume loud" in line for line in job.screen)
    assert not any("Traceback" in line for line in job.screen), job.screen
    checked = audit(bay.folder)
    assert checked.ok, checked.problem
