"""A person's takes on disk."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from assistant.errors import BadInput
from assistant.hearing.enrollment.folder import INDEX, VoiceFolder, voices_home
from assistant.hearing.enrollment.quality import fault_of
from assistant.hearing.enrollment.spectrum import take_of
from assistant.hearing.noise import from_pcm, to_pcm


def tone(hertz: float, level: float = 0.2, room: float = 1e-4) -> bytes:
    """Half a second of a tone between faint noise."""
    chance = np.random.default_rng(1)
    faint = chance.standard_normal(24_000) * room
    faint[8_000:16_000] += level * np.sin(2 * np.pi * hertz * np.arange(8_000) / 16_000)
    return to_pcm(faint)


def test_takes_are_there_again_when_loaded(tmp_path: Path) -> None:
    """What was added is read back by another opening of the folder, with its phrases."""
    folder = VoiceFolder("mara", tmp_path)
    for hertz in (300, 310):
        folder.add("affirm", tone(hertz))
    folder.add("stand by", tone(900))
    again = VoiceFolder("mara", tmp_path)
    assert [clip.phrase for clip in again.clips] == ["affirm", "affirm", "stand by"]
    assert [(p.text, len(p.takes)) for p in again.phrases()] == [("affirm", 2), ("stand by", 1)]
    assert "never used to tell who somebody is" in (again.path / INDEX).read_text("utf-8")


def test_removal_leaves_nothing(tmp_path: Path) -> None:
    """After removal the folder is gone and nothing is enrolled; others keep theirs."""
    for person in ("mara", "ines"):
        VoiceFolder(person, tmp_path).add("affirm", tone(300))
    folder = VoiceFolder("mara", tmp_path)
    assert folder.remove()
    assert not folder.remove()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["ines"]
    assert VoiceFolder("mara", tmp_path).phrases() == ()


@pytest.mark.parametrize("person", ["", "..", "Mara", "a/b"])
def test_an_id_never_leads_out_of_the_folder(person: str, tmp_path: Path) -> None:
    """What is no id of the roster is refused."""
    with pytest.raises(BadInput, match="id of a person"):
        VoiceFolder(person, tmp_path)


def test_a_damaged_folder_says_what_is_wrong(tmp_path: Path) -> None:
    """A missing clip and a broken index are named."""
    folder = VoiceFolder("mara", tmp_path)
    folder.add("affirm", tone(300))
    (folder.path / "0001.flac").unlink()
    with pytest.raises(BadInput, match=r"0001\.flac"):
        folder.phrases()
    (folder.path / INDEX).write_text('{"clips": [{"file": "../x.flac", "phrase": "affirm"}]}')
    with pytest.raises(BadInput, match="not an index"):
        VoiceFolder("mara", tmp_path)


@pytest.mark.parametrize("room_dbfs", [-80, -70, -65])
@pytest.mark.parametrize("speech_dbfs", [-20, -35])
def test_a_take_is_where_it_was_said(speech_dbfs: float, room_dbfs: float) -> None:
    """The phrase is found between what is room only, however faint both were recorded."""
    level, room = (10 ** (db / 20) for db in (speech_dbfs, room_dbfs))
    take = take_of(from_pcm(tone(900, level * 2**0.5, room)))
    assert take.first == pytest.approx(50, abs=6)
    assert take.last == pytest.approx(100, abs=6)


def test_voices_lie_in_the_home(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """$GLOVESON_HOME moves them."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    assert voices_home() == tmp_path / "voices"


@pytest.mark.parametrize(
    ("pcm", "fault"),
    [
        (tone(300), ""),
        (tone(300, level=3.0), "overdriven"),
        (tone(300, level=0.0007), "nothing stands out"),
        (tone(300, level=0.0012, room=1e-5), "too quiet"),
        (to_pcm(np.random.default_rng(2).standard_normal(16_000) * 0.05), "room|noisy|cut|short"),
    ],
)
def test_bad_takes_are_named(pcm: bytes, fault: str) -> None:
    """A good take has no fault; overdriven, faint and empty ones say so."""
    found = fault_of(pcm)
    assert (found == "") == (fault == "")
    assert any(part in found for part in fault.split("|"))
