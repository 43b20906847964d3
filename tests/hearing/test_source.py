"""Sources: frames of the right size and rate from memory and from files."""

from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest
import soundfile

from assistant.errors import AudioUnavailable
from assistant.hearing import source
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


def _float_wave(path: Path, samples: object, rate: int = RATE) -> Path:
    soundfile.write(path, samples, rate, format="WAV", subtype="FLOAT")
    return path


@pytest.mark.parametrize(
    ("rate", "channels", "said"),
    [(1, 1, "samples a second"), (2**31 - 1, 1, "samples a second"), (RATE, 40, "40 channels")],
)
def test_what_no_sound_has_is_refused(rate: int, channels: int, said: str, tmp_path: Path) -> None:
    """A rate of 1 Hz would blow up to hours when resampled; so would many channels."""
    path = _float_wave(tmp_path / "a.wav", np.zeros((50, channels)), rate)
    with pytest.raises(AudioUnavailable, match=said):
        read_audio(path)


@pytest.mark.parametrize("odd", [float("nan"), float("inf"), float("-inf")])
def test_what_is_no_number_is_refused(odd: float, tmp_path: Path) -> None:
    """A float file may hold values that are no sound; nothing is made of them."""
    samples = np.zeros(200_000)
    samples[150_000] = odd
    with pytest.raises(AudioUnavailable, match=r"a\.wav: holds values that are no numbers"):
        read_audio(_float_wave(tmp_path / "a.wav", samples))


def test_a_length_is_counted_and_not_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A FLAC file that says it holds 2^36-1 samples gets no memory for them; too long is told."""
    path = tmp_path / "a.flac"
    soundfile.write(path, np.full(RATE, 0.25), RATE)
    with monkeypatch.context() as limited:
        limited.setattr(source, "MOST_SAMPLES", RATE - 1)
        with pytest.raises(AudioUnavailable, match="longer than"):
            read_audio(path)
    raw = bytearray(path.read_bytes())
    packed = int.from_bytes(raw[18:26], "big") | (1 << 36) - 1  # STREAMINFO, RFC 9639, 8.2
    raw[18:26] = packed.to_bytes(8, "big")
    path.write_bytes(raw)
    with pytest.raises(AudioUnavailable, match="can be read here"):
        read_audio(path)


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    """What is no file is not opened."""
    os.mkfifo(tmp_path / "a.wav")
    with pytest.raises(AudioUnavailable, match="not a file"):
        read_audio(tmp_path / "a.wav")
