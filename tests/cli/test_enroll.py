"""`gloveson enroll`, with takes from the fixtures' held-out voices."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from assistant.cli.main import main

FIXTURES = Path(__file__).parents[2] / "audio_fixtures" / "en" / "flite-rms"
PHRASES = ("step complete", "done and checked", "affirm", "stand by")


@pytest.fixture
def takes(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    """A manifest of two takes of each phrase, and a home of the test's own."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path / "home"))
    rows = [f"{FIXTURES / phrase.replace(' ', '-')}.flac,{phrase}" for phrase in PHRASES * 2]
    manifest = tmp_path / "takes.csv"
    manifest.write_text("file,transcript\n" + "\n".join(rows) + "\n", encoding="utf-8")
    return manifest


def test_takes_are_enrolled_listed_and_removed(
    takes: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What a manifest gives is there, and gone after --remove."""
    assert main(["enroll", "Mara", "--from", str(takes), "--json"]) == 0
    given = json.loads(capsys.readouterr().out)
    assert given["person"] == "mara"
    assert given["phrases"] == dict.fromkeys(PHRASES, 2)
    assert given["refused"] == []
    assert len(list((tmp_path / "home" / "voices" / "mara").glob("*.flac"))) == 8
    assert main(["enroll", "mara", "--list"]) == 0
    assert "mara: 4 phrases, 8 takes" in capsys.readouterr().out
    assert main(["enroll", "mara", "--remove"]) == 0
    assert not (tmp_path / "home" / "voices" / "mara").exists()


def test_a_phrase_that_is_none_is_named_with_its_line(
    takes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wrong label enrolls nothing; so does a reading, whose figures takes never decide."""
    for phrase in ("bananas", "reading two two newton meters"):
        takes.write_text(f"file,transcript\nx.flac,{phrase}\n", encoding="utf-8")
        assert main(["enroll", "mara", "--from", str(takes)]) == 2
        assert f'{takes}:2: "{phrase}" is no phrase' in capsys.readouterr().err
    assert main(["enroll", "mara", "--list"]) == 0
    assert "0 phrases" in capsys.readouterr().out


def test_a_manifest_without_its_columns_is_bad_input(
    takes: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The missing column is named."""
    takes.write_text("file,words\nx.flac,affirm\n", encoding="utf-8")
    assert main(["enroll", "mara", "--from", str(takes)]) == 2
    assert "no column transcript" in capsys.readouterr().err
