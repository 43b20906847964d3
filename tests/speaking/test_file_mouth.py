"""The rehearsal's mouth puts what is said into one track, each in its place."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from assistant.speaking.file_mouth import FileMouth
from assistant.speaking.renderer import Renderer
from assistant.speaking.speech import HEARING_RATE


@pytest.fixture
def mouth(tmp_path: Path) -> Iterator[FileMouth]:
    """A mouth whose clock begins at 100 s."""
    made = FileMouth(Renderer(cache=tmp_path), began_mono=100.0)
    yield made
    made.close()


def test_the_track_is_the_clock(mouth: FileMouth) -> None:
    """Speech, a pause of two seconds, speech: the track has the sound and the silence there."""
    first = mouth.say("lower the tank")
    mouth.pass_time(2.0)
    second = mouth.say("slowly")
    mouth.pass_time(1.0)
    track = mouth.track()
    assert first.began_mono == 100.0
    assert second.began_mono == pytest.approx(first.ended_mono + 2.0)
    assert track.rate == HEARING_RATE
    assert track.seconds == pytest.approx(mouth.now - 100.0, abs=0.001)
    loud = np.flatnonzero(np.abs(track.samples.astype(int)) > 500) / HEARING_RATE + 100.0
    for spoken in (first, second):
        inside = (loud > spoken.began_mono) & (loud < spoken.ended_mono)
        assert inside.sum() > 1_000
    pause = (loud > first.ended_mono + 0.01) & (loud < second.began_mono)
    assert not pause.any()
    assert mouth.spoken == [first, second]


def test_a_cut_can_be_scripted(mouth: FileMouth) -> None:
    """The next utterance ends after half a second, and only that one."""
    mouth.cut_next(0.5)
    cut = mouth.say("raise the handlebar and hold it there")
    whole = mouth.say("raise the handlebar and hold it there")
    assert cut.cut
    assert cut.ended_mono - cut.began_mono == pytest.approx(0.5)
    assert not whole.cut
    assert mouth.track().seconds == pytest.approx(mouth.now - 100.0, abs=0.001)


def test_a_cut_after_the_end_cuts_nothing(mouth: FileMouth) -> None:
    """Interrupting what has ended by then is no interruption."""
    mouth.cut_next(60)
    assert not mouth.say("go on").cut


def test_time_does_not_run_backwards(mouth: FileMouth) -> None:
    """A negative pause is an error."""
    with pytest.raises(ValueError, match="backwards"):
        mouth.pass_time(-0.1)


def test_in_real_time_the_track_follows_the_wall_clock(tmp_path: Path) -> None:
    """Saying takes as long as hearing; the pauses between are in the track."""
    mouth = FileMouth(Renderer(cache=tmp_path, rate=300), realtime=True)
    first = mouth.say("go on")
    mouth.pass_time(0.2)
    second = mouth.say("go on")
    mouth.close()
    assert second.began_mono >= first.ended_mono + 0.2
    lasted = second.ended_mono - first.began_mono
    assert mouth.track().seconds >= lasted - 0.01


def test_nothing_said_is_an_empty_track(mouth: FileMouth) -> None:
    """A track without speech is as long as the time that passed."""
    assert mouth.track().seconds == 0
    mouth.pass_time(1.5)
    assert mouth.track().seconds == pytest.approx(1.5)
