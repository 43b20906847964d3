"""The measuring tool, on a small manifest of spoken fixtures."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import soundfile

from assistant.hearing.calibrate import main
from assistant.hearing.noise import from_pcm
from tests.hearing.clips import clip


def test_clips_are_told_apart_by_what_came_of_them(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A command, speech that is none, and silence each get their own outcome."""
    unrelated = "another kind of trouble"
    soundfile.write(tmp_path / "a.wav", from_pcm(clip("step complete")), 16_000)
    soundfile.write(tmp_path / "b.wav", from_pcm(clip(unrelated)), 16_000)
    (tmp_path / "manifest.csv").write_text(
        "file,kind,transcript,speaker,intent,split\n"
        "a.wav,command,step complete,rms,step_done,tuning\n"
        f"b.wav,speech,{unrelated},rms,,\n"
        "a.wav,command,step complete,rms,step_done,held-out\n"
        "a.wav,fragment,complete,rms,step_done,tuning\n"
    )
    lines = tmp_path / "lines.jsonl"
    main([str(tmp_path / "manifest.csv"), "--split", "tuning", "--lines", str(lines)])
    told = [json.loads(line) for line in lines.read_text().splitlines()]
    assert [(each["words"], each["intent"]) for each in told] == [
        ("step complete", "step_done"),
        (unrelated, ""),
    ]
    assert told[0]["outcome"] == "correct"
    assert told[1]["outcome"] == "asked again"
    shown = capsys.readouterr().out
    assert "(unrelated)" in shown
    assert "CPU time" in shown
