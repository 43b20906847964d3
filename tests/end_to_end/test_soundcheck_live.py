"""A soundcheck with somebody in the room, through a real sound server."""

from __future__ import annotations

from pathlib import Path

from tests.end_to_end.running import live
from tests.hearing.clips import clip
from tests.virtual_sound import virtual_sound

PHRASES = (
    "step complete",
    "what torque",
    "stand by",
    "hold everything",
    "where are we",
    "affirm",
)


def test_a_quiet_place_is_found_to_work(tmp_path: Path) -> None:
    """It asks for silence and then for each phrase, and a quiet place where they are said works."""
    (tmp_path / "sound").mkdir()
    with (
        virtual_sound(tmp_path / "sound") as sound,
        sound.quiet_room(),
        live(tmp_path, "soundcheck", "--microphone", "pulse", extra=sound.environment) as check,
    ):
        assert check.shows("Say nothing for a few seconds."), check.screen
        for phrase in PHRASES:
            assert check.shows(f"Say this: {phrase}"), check.screen
            sound.speak(clip(phrase, "flite-slt"), tail_s=0.2)
        assert check.wait(30.0) == 0
    assert sum("Say this:" in line for line in check.screen) == len(PHRASES)
