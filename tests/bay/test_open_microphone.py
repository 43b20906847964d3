"""What the microphone hears between replies is nowhere on the disk."""

from __future__ import annotations

import tempfile
from pathlib import Path

import numpy as np
import pytest

from assistant.bay import Bay
from assistant.checklist.loader import load
from assistant.hearing.activity import PRE_ROLL_S
from assistant.hearing.ear import Ear
from assistant.hearing.source import FRAME_BYTES, FRAME_S, FRAME_SAMPLES
from assistant.job.events import Opened
from assistant.opening import open_job
from assistant.ports import Ports
from assistant.record.clips import read_clip
from assistant.speaking.testing import ScriptedMouth
from assistant.testing import ScriptedClock
from tests.bays import fresh_numbers
from tests.hearing.fakes import Parrot, Tape, voiced
from tests.job.bench import ALL_HAZARDS, ROSTER

NOW = ("2026-03-02T10:00:00.000Z", 5.0)
TALK = range(400, 412), range(700, 712)
"""Frames in which somebody speaks to the assistant."""
ALL = 1200
AFTER_S = 1.5
"""The longest silence for which an utterance is waited out, with room."""


def _frame(number: int) -> bytes:
    """A frame that can be told from every other: its number stands in its second sample."""
    samples = np.full(FRAME_SAMPLES, 10, dtype="<i2")
    samples[0] = 4000 if any(number in talk for talk in TALK) else 10
    samples[1] = number
    return samples.tobytes()


@pytest.mark.parametrize("clips", [True, False])
def test_only_replies_reach_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, clips: bool
) -> None:
    """Clips hold the replies and a moment around them; without clips there is no sound at all."""
    home, temporary = tmp_path / "home", tmp_path / "temporary"
    temporary.mkdir()
    monkeypatch.setenv("GLOVESON_HOME", str(home))
    monkeypatch.setattr(tempfile, "tempdir", str(temporary))
    monkeypatch.chdir(temporary)
    loaded = load({"small.yaml": ALL_HAZARDS}, "small.yaml")
    job = open_job(loaded, {}, ROSTER, now=NOW, engine="parrot", clips=clips)
    parrot = Parrot(["affirm", "what size"])
    ear = Ear(Tape([_frame(n) for n in range(ALL)]), parrot, detector=voiced)
    numbers = fresh_numbers()
    ports = Ports(
        ScriptedMouth(),
        job.keeper,
        ScriptedClock(),
        lambda: next(numbers),
        lambda _t: None,
        ear=ear,
    )
    bay = Bay(job.setting, job.words, ports, job.state)
    bay.begin(lambda: Opened(bay.stamp(), job.folder.name, "WREN 7", "mara", "tobin"))
    for _ in range(40):
        bay.turn(1.0)
    job.keeper.journal.close()
    assert len(parrot.heard) == len(TALK)  # both replies were heard
    kept = _kept(job.folder)
    for number in kept:
        assert any(
            talk.start - PRE_ROLL_S / FRAME_S <= number <= talk.stop + AFTER_S / FRAME_S
            for talk in TALK
        ), number
    assert set(TALK[0]) | set(TALK[1]) <= kept if clips else not kept
    _no_other_sound(tmp_path, job.folder / "clips")


def _kept(folder: Path) -> set[int]:
    """Numbers of the frames in all clips."""
    found = set()
    for path in (folder / "clips").iterdir():
        sound = read_clip(folder, f"clips/{path.name}")
        for at in range(0, len(sound), FRAME_BYTES):
            found.add(int.from_bytes(sound[at + 2 : at + 4], "little"))
    return found


def _no_other_sound(everywhere: Path, clips: Path) -> None:
    """Whatever else was written is text, and too short to hide sound in."""
    for path in everywhere.rglob("*"):
        if path.is_file() and path.parent != clips:
            path.read_bytes().decode("utf-8")
            assert path.suffix in {".jsonl", ".yaml", ".lock"}, path
