"""`gloveson soundcheck` on recordings of places."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from assistant.cli.main import main
from assistant.hearing import microphone
from assistant.hearing.source import RATE
from tests.cli.test_live import NoDevices
from tests.soundcheck.test_measure import WORDS, place, recorded


def test_a_good_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A quiet place works: exit code 0, figures and advice as JSON."""
    path = recorded(tmp_path, place(WORDS, -25, -60))
    assert main(["soundcheck", "--from", str(path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["works"] is True
    assert found["figure"] == "good"
    assert found["snr_db"] == pytest.approx(35, abs=2)
    assert (found["tried"], found["understood"]) == (3, 3)
    assert [one["code"] for one in found["advice"]] == ["good"]


def test_a_place_that_is_too_loud(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Noise as loud as the voice: exit code 1, and the pedal is advised."""
    path = recorded(tmp_path, place(WORDS, -20, -18))
    assert main(["soundcheck", "--from", str(path)]) == 1
    out = capsys.readouterr().out
    assert "pedal" in out or "nobody" in out
    assert "(none)" in out


def test_a_muted_microphone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Zeros are told as what they are."""
    path = recorded(tmp_path, np.zeros(4 * RATE))
    assert main(["soundcheck", "--from", str(path)]) == 1
    assert "may be muted" in capsys.readouterr().out


def test_without_a_microphone(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """No microphone is an error with its reason."""
    monkeypatch.setattr(microphone, "load_sounddevice", NoDevices)
    assert main(["soundcheck"]) in (1, 2)
    assert "microphone" in capsys.readouterr().err


def test_a_file_that_is_no_audio(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A text file is refused with its name."""
    path = tmp_path / "place.wav"
    path.write_text("no sound", encoding="utf-8")
    assert main(["soundcheck", "--from", str(path)]) in (1, 2)
    assert "place.wav" in capsys.readouterr().err
