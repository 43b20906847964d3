"""A microphone pulled out of a live job and put back, through a real sound server."""

from __future__ import annotations

import time
from pathlib import Path

from assistant.record.audit import audit
from tests.end_to_end.live_sound import Bay, sounding
from tests.end_to_end.running import live
from tests.virtual_sound import HEADSET, virtual_sound

_AWAY_S = 5.0
"""Long enough for several tries to take it back, and for a new list of devices."""


def test_a_microphone_pulled_out_and_put_back(tmp_path: Path) -> None:
    """It is said and shown, the job waits, keys work, and afterwards it hears and speaks again."""
    (tmp_path / "sound").mkdir()
    command = ["start", "clutch-cable-adjustment", "--who", "Mara", "--job", "pulled"]
    options = ["--microphone", HEADSET, "--rate", "300"]
    with (
        virtual_sound(tmp_path / "sound") as sound,
        sound.quiet_room(),
        live(tmp_path, *command, *options, extra=sound.environment) as job,
    ):
        bay = Bay(job, sound, tmp_path / "jobs" / "pulled")
        assert job.shows("How is the machine held?"), job.screen
        bay.wait_until_silent()
        bay.say("affirm", "affirm")

        with sound.listen() as told:
            sound.unplug_microphone()
            pulled = time.monotonic()
            # The sound server ends the stream, or moves it to the loudspeaker's monitor, which
            # gives zeros: lost, or without any sound.
            assert job.shows("The job waits. You can use the keys."), job.screen
            assert time.monotonic() - pulled < 10  # within seconds
            bay.wait_until_silent()
        told_s = sounding(told.pcm)
        assert told_s > 1.0, "it was not said aloud"

        before = len(job.screen)
        job.type("what is off")
        assert job.shows("Nothing is off", after=before), job.screen
        time.sleep(_AWAY_S)
        bay.wait_until_silent()

        before = len(job.screen)
        sound.plug_microphone()
        assert job.shows("I can hear again", after=before), job.screen
        bay.wait_until_silent()
        answered_s = sounding(bay.say("where are we", "where_are_we"))
        assert answered_s > 1.0, "the loudspeaker does not sound any more"
        assert job.interrupt() == 1
    assert bay.heard() == ["affirm", "what_is_off", "where_are_we"]
    assert not any("Traceback" in line for line in job.screen), job.screen
    checked = audit(bay.folder)
    assert checked.ok, checked.problem
