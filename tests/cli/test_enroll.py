"""`gloveson enroll`, with takes from the fixtures' held-out voices."""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from assistant.cli import asking
from assistant.cli.main import main
from assistant.hearing import microphone
from assistant.hearing.enrollment.folder import VoiceFolder
from assistant.hearing.room import Room
from assistant.hearing.source import read_audio
from assistant.soundcheck.takes import Ask
from tests.cli.test_live import NoDevices

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


def test_takes_by_microphone_are_kept_when_it_is_stopped(
    takes: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Phrases are asked for and recorded; Ctrl-C keeps what was said and tells how to go on."""
    home = takes.parent / "home" / "voices"
    room = Room()

    @contextmanager
    def asker(_loudspeaker: str | None, folder: VoiceFolder, *, silent: bool) -> Iterator[Ask]:
        assert silent

        def ask(phrase: str, fault: str) -> None:
            if len(folder.clips) == 2:
                raise KeyboardInterrupt
            assert fault == ""
            room.speak(read_audio(FIXTURES / f"{phrase.replace(' ', '-')}.flac"), after_s=0.7)

        yield ask

    monkeypatch.setattr(microphone, "Microphone", lambda _name: room)
    monkeypatch.setattr(asking, "asker", asker)
    assert main(["enroll", "Mara", "--engine", "pocketsphinx", "--silent"]) == 1
    assert "2 takes are kept. Go on with: gloveson enroll mara" in capsys.readouterr().err
    assert len(VoiceFolder("mara", home).clips) == 2


def test_without_a_microphone_nothing_is_begun(
    takes: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A machine without sound: a message and no folder."""
    monkeypatch.setattr(microphone, "load_sounddevice", NoDevices)
    assert main(["enroll", "Mara", "--engine", "pocketsphinx"]) in {1, 2}
    assert capsys.readouterr().err
    assert not (takes.parent / "home" / "voices" / "mara").exists()


def test_a_phrase_is_shown_where_it_can_not_be_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without a loudspeaker the phrases stand on the screen, and that is said once."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    folder = VoiceFolder("mara", tmp_path)
    with asking.asker("no such loudspeaker", folder, silent=False) as ask:
        ask("affirm", "")
        ask("affirm", "too short; say the whole phrase")
    lines = capsys.readouterr().err.splitlines()
    assert [line.strip() for line in lines if "say: affirm" in line] == ["1  say: affirm"] * 2
    assert sum(line.startswith("(") for line in lines) == 1
    assert "once more: too short; say the whole phrase" in lines


def test_takes_are_removed_in_whatever_state_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """An index that can't be read, or is no file, keeps nobody from having their voice removed."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    folder = tmp_path / "voices" / "mara"
    for make in (lambda path: path.write_text("{"), os.mkfifo):
        folder.mkdir(parents=True)
        make(folder / "voice.json")
        assert main(["enroll", "mara", "--list"]) == 2
        assert "voice.json" in capsys.readouterr().err
        assert main(["enroll", "mara", "--remove"]) == 0
        assert not folder.exists()
