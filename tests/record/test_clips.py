"""Clips: lossless, numbered, never over one another."""

from __future__ import annotations

import hashlib
import shutil
import subprocess
from pathlib import Path

import pytest
import soundfile
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput, JournalUnwritable, RecordDamaged
from assistant.record import clips
from assistant.record.clips import ClipRef, read_clip, save_clip, unnamed_clips
from tests.real_parts import require
from tests.record.disks import FailingDisk
from tests.record.making import TONE


@pytest.fixture(name="folder")
def _folder(tmp_path: Path) -> Path:
    (tmp_path / "clips").mkdir()
    return tmp_path


def test_save_clip(folder: Path) -> None:
    """A clip is a 16 kHz mono FLAC file with its SHA-256 and length told."""
    clip = save_clip(folder, TONE)
    content = (folder / clip.file).read_bytes()
    assert clip.data() == {
        "file": "clips/000001.flac",
        "sha256": hashlib.sha256(content).hexdigest(),
        "seconds": 0.05,
    }
    info = soundfile.info(folder / clip.file)
    assert (info.format, info.samplerate, info.channels, info.frames) == ("FLAC", 16000, 1, 800)


def test_clips_are_numbered(folder: Path) -> None:
    """Each clip gets the number after the highest, gaps and strange files or not."""
    (folder / "clips" / "000041.flac").touch()
    (folder / "clips" / "notes.txt").touch()
    assert save_clip(folder, TONE).file == "clips/000042.flac"
    assert save_clip(folder, TONE).file == "clips/000043.flac"
    assert (folder / "clips" / "000041.flac").read_bytes() == b""


def test_number_past_six_digits(folder: Path) -> None:
    """After clip 999999 the numbers grow longer."""
    (folder / "clips" / "999999.flac").touch()
    assert save_clip(folder, TONE).file == "clips/1000000.flac"


@settings(max_examples=30, deadline=None)
@given(samples=st.binary(min_size=2, max_size=4000).filter(lambda pcm: len(pcm) % 2 == 0))
def test_lossless(samples: bytes, tmp_path_factory: pytest.TempPathFactory) -> None:
    """The sound that comes back is bit for bit the sound that went in."""
    folder = tmp_path_factory.mktemp("record")
    (folder / "clips").mkdir()
    assert read_clip(folder, save_clip(folder, samples).file) == samples


def test_flac_by_another_decoder(folder: Path) -> None:
    """The reference decoder `flac` finds the file whole and decodes the same sound."""
    require(shutil.which("flac"), "the flac command isn't installed")
    clip = save_clip(folder, TONE)
    done = subprocess.run(
        ["flac", "-sdc", "--force-raw-format", "--endian=little", "--sign=signed", clip.file],
        cwd=folder,
        check=True,
        capture_output=True,
    )
    assert done.stdout == TONE


@pytest.mark.parametrize("pcm", [b"", b"\x00", b"\x00\x01\x02"])
def test_not_sound(pcm: bytes, folder: Path) -> None:
    """No sound and half samples are bad input, and no file is made."""
    with pytest.raises(BadInput):
        save_clip(folder, pcm)
    assert not list((folder / "clips").iterdir())


def test_full_disk_leaves_no_piece(folder: Path) -> None:
    """A clip that doesn't fit leaves nothing behind."""
    disk = FailingDisk()
    disk.room = 20
    with pytest.raises(JournalUnwritable, match=r"000001\.flac"):
        save_clip(folder, TONE, disk=disk)
    assert not list((folder / "clips").iterdir())


def test_no_folder(tmp_path: Path) -> None:
    """Without a clips folder the clip can't be saved, and that is said."""
    with pytest.raises(JournalUnwritable):
        save_clip(tmp_path, TONE)


@pytest.mark.parametrize("content", [None, b"", b"fLaC", b"RIFF" + bytes(100)])
def test_unreadable_clip(content: bytes | None, folder: Path) -> None:
    """A clip that is missing or no sound file is damage that names it."""
    if content is not None:
        (folder / "clips" / "000001.flac").write_bytes(content)
    with pytest.raises(RecordDamaged, match=r"000001\.flac"):
        read_clip(folder, "clips/000001.flac")


def test_clip_of_another_rate(folder: Path) -> None:
    """Sound of another rate is not passed off as a clip."""
    soundfile.write(folder / "clips" / "000001.flac", [0.0] * 100, 8000)
    with pytest.raises(RecordDamaged, match="16000"):
        read_clip(folder, "clips/000001.flac")


def test_unnamed_clips(folder: Path) -> None:
    """Only numbered plain files that no entry names are unnamed clips."""
    first, second = save_clip(folder, TONE), save_clip(folder, TONE)
    (folder / "clips" / "notes.flac").touch()
    (folder / "clips" / "000009.flac").symlink_to(folder / first.file)
    assert unnamed_clips(folder, {first.file}) == [second]
    assert isinstance(second, ClipRef)


def test_a_clip_longer_than_any_reply_is_refused(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Hours of silence take a few bytes as FLAC; its length is counted, its header not believed."""
    clip = save_clip(folder, TONE)
    assert len(TONE) == 2 * 800
    monkeypatch.setattr(clips, "MOST_SAMPLES", 799)
    with pytest.raises(RecordDamaged, match="longer than"):
        read_clip(folder, clip.file)
    monkeypatch.setattr(clips, "MOST_SAMPLES", 10)
    with pytest.raises(RecordDamaged, match="larger than any reply"):
        read_clip(folder, clip.file)
