"""Sources: frames of the right size and rate from memory and from files."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.errors import AudioUnavailable
from assistant.hearing.noise import from_pcm
from assistant.hearing.source import (
    FRAME_BYTES,
    RATE,
    FileSource,
    PcmSource,
    read_audio,
    resample,
    room_tone,
)


def _tone(rate: int, hertz: float, seconds: float = 1.0) -> np.ndarray:
    return 0.5 * np.sin(2 * np.pi * hertz * np.arange(int(rate * seconds)) / rate)


def test_every_frame_is_whole() -> None:
    """Samples of any length come as whole frames, in order, the last one filled up."""
    pcm = bytes(range(256)) * 13
    frames = list(PcmSource(pcm, tail_s=0.0).frames())
    assert {len(frame) for frame in frames} == {FRAME_BYTES}
    assert b"".join(frames)[: len(pcm)] == pcm


def test_frames_go_on_where_they_were_left() -> None:
    """A second reader of the same source gets the next frame, not the first."""
    source = PcmSource(bytes(FRAME_BYTES) + b"\1" * FRAME_BYTES, tail_s=0.0)
    next(source.frames())
    assert next(source.frames()) == b"\1" * FRAME_BYTES


def test_closed_source_ends() -> None:
    """Nothing comes from a source that was closed."""
    source = PcmSource(bytes(32_000))
    source.close()
    assert list(source.frames()) == []


@pytest.mark.parametrize("rate", [8_000, 22_050, 44_100, 48_000])
def test_files_of_any_rate_become_16_khz_mono(tmp_path: Path, rate: int) -> None:
    """A 1 kHz tone in a stereo file of any rate keeps pitch, length and level at 16 kHz mono."""
    tone = _tone(rate, 1_000.0)
    path = tmp_path / "tone.wav"
    soundfile.write(path, np.column_stack([tone, tone]), rate)
    samples = from_pcm(read_audio(path))
    assert len(samples) == RATE
    assert int(np.argmax(np.abs(np.fft.rfft(samples)))) == 1_000
    # A sine of amplitude 0.5 has a power of 0.5²/2 (arithmetic).
    assert float(np.mean(samples**2)) == pytest.approx(0.125, rel=0.01)


def test_what_16_khz_cannot_carry_is_left_out() -> None:
    """A 12 kHz tone at 48 kHz does not fold back into the speech band (sampling theorem)."""
    folded = resample(_tone(48_000, 12_000.0), 48_000, RATE)
    assert float(np.max(np.abs(folded[RATE // 10 : -RATE // 10]))) < 0.005


def test_no_audio_file_is_named(tmp_path: Path) -> None:
    """A file that holds no sound, and one that is not there, are refused by name."""
    path = tmp_path / "notes.txt"
    path.write_text("not a sound")
    with pytest.raises(AudioUnavailable, match=r"notes\.txt"):
        FileSource(path)
    with pytest.raises(AudioUnavailable, match=r"gone\.wav"):
        FileSource(tmp_path / "gone.wav")


def test_room_tone_has_its_level() -> None:
    """Room tone of -60 dB below full scale measures as that."""
    samples = from_pcm(room_tone(RATE, dbfs=-60.0))
    assert 10 * np.log10(np.mean(samples**2)) == pytest.approx(-60.0, abs=0.2)
