"""The rehearsal as one file: prompts and answers, each in its place."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import soundfile

from assistant.errors import AudioUnavailable
from assistant.rehearsal.audible import AudibleMouth
from assistant.rehearsal.track import save_track
from assistant.speaking.file_mouth import FileMouth
from assistant.speaking.speech import Speech
from tests.rehearsal.stage import QuickVoice


def _tone(level: int) -> Speech:
    return Speech(np.full(1600, level, dtype="<i2").tobytes(), 16_000)


def test_each_sound_has_its_place(tmp_path: Path) -> None:
    """What was said and the silence between come out as they were, at 16 kHz, without loss."""
    mouth = FileMouth(QuickVoice())  # type: ignore[arg-type] # a voice without a process
    mouth.add(_tone(1000))
    mouth.pass_time(0.2)
    mouth.add(_tone(2000))
    path = save_track(mouth, tmp_path / "heard.flac")
    samples, rate = soundfile.read(path, dtype="int16")
    assert rate == 16_000
    assert list(samples[:1600]) == [1000] * 1600
    assert list(samples[1600:4800]) == [0] * 3200
    assert list(samples[4800:6400]) == [2000] * 1600


class _NoLoudspeaker:
    """A loudspeaker that isn't there."""

    def __init__(self) -> None:
        self.tried = 0
        self.closed = False

    def play(self, speech: Speech, cut: object) -> None:
        """Refuse."""
        del speech, cut
        self.tried += 1
        raise AudioUnavailable("no loudspeaker here")

    def close(self) -> None:
        """Remember it."""
        self.closed = True


def test_without_a_loudspeaker_a_rehearsal_in_real_time_is_read() -> None:
    """The missing loudspeaker is told once; the track is kept all the same."""
    told: list[str] = []
    missing = _NoLoudspeaker()
    mouth = AudibleMouth(QuickVoice(), missing, told.append)  # type: ignore[arg-type] # see above
    mouth.say("affirm")
    mouth.add(_tone(1000))
    assert missing.tried == 1
    assert len(told) == 1
    assert "no loudspeaker here" in told[0]
    assert len(mouth.track().samples) >= 3000
    mouth.close()
