"""Where sound comes from: 16 kHz mono s16le in frames of 512 samples (32 ms).

A live microphone, a file and a rehearsal are all a `Source`, so that they go through one and
the same hearing path.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from assistant.errors import AudioUnavailable
from assistant.hearing.noise import Samples, at_level_db, to_pcm, white

if TYPE_CHECKING:
    import soundfile

RATE: Final = 16_000
"""Samples a second; what both recognisers and the voice-activity model expect."""

FRAME_SAMPLES: Final = 512
"""Samples in a frame: the only size that the voice-activity model takes at 16 kHz."""

FRAME_BYTES: Final = 2 * FRAME_SAMPLES
FRAME_S: Final = FRAME_SAMPLES / RATE

LEAST_HZ: Final = 4_000
MOST_HZ: Final = 384_000
MOST_CHANNELS: Final = 32
MOST_SAMPLES: Final = 900 * 48_000
"""What a file may have: a quarter of an hour at 48 kHz (our choice; it takes about a gigabyte)."""
_BLOCK: Final = 1 << 16

TICK_S: Final = 0.1
"""How much time an empty frame stands for."""


class Source(Protocol):
    """Sound, frame by frame. One thread reads it.

    `frames` may be called again and goes on where it was left. An empty frame says that no sound
    came for `TICK_S` seconds. The iterator ends when there will never be more.
    """

    def frames(self) -> Iterator[bytes]:
        """Frames of exactly `FRAME_BYTES` bytes, or empty ones for a missing tenth of a second."""

    def discard(self) -> None:
        """Forget what is queued and not yet read."""

    def deafen(self, deaf: bool) -> None:
        """While deaf, nothing is queued (half duplex: the assistant speaks)."""

    def close(self) -> None:
        """Give the device back; `frames` then ends."""

    @property
    def lost(self) -> bool:
        """Whether the device has gone and is being looked for."""

    @property
    def waiting_s(self) -> float:
        """Seconds of sound that are here already and not yet read."""

    @property
    def dropped(self) -> int:
        """Frames lost so far because nobody took them or the device overflowed."""


class PcmSource:
    """Samples held in memory, then `tail_s` of near-silence so that the last word can end."""

    def __init__(self, pcm: bytes, tail_s: float = 1.0) -> None:
        tail = room_tone(int(tail_s * RATE), seed=len(pcm))
        self._pcm = pcm[: len(pcm) // 2 * 2] + tail
        self._at = 0
        self.lost = False
        self.dropped = 0
        self.waiting_s = 0.0  # sound is made when it is asked for

    def frames(self) -> Iterator[bytes]:
        """The next frames; the last one is filled up with silence."""
        while self._at < len(self._pcm):
            frame = self._pcm[self._at : self._at + FRAME_BYTES]
            self._at += FRAME_BYTES
            yield frame.ljust(FRAME_BYTES, b"\0")

    def discard(self) -> None:
        """Nothing is queued here: samples are read only when asked for."""

    def deafen(self, deaf: bool) -> None:
        """Nothing is queued here: samples are read only when asked for."""

    def close(self) -> None:
        """End the frames."""
        self._at = len(self._pcm)


class FileSource(PcmSource):
    """An audio file of any rate, channels and format that libsndfile reads.

    Raises:
        AudioUnavailable: it can't be read; says why.
    """

    def __init__(self, path: Path, tail_s: float = 1.0) -> None:
        super().__init__(read_audio(path), tail_s)


def read_audio(path: Path) -> bytes:
    """The file as 16 kHz mono s16le; what its header says of its length is not believed.

    Raises:
        AudioUnavailable: it can't be read, is too long, or holds what is no sound; says why.
    """
    import soundfile  # noqa: PLC0415 - loads a native library that a live job doesn't need here

    try:
        if path.exists() and not path.is_file():  # a pipe would never begin
            raise AudioUnavailable(f"{path}: no audio file: it is not a file at all")
        with soundfile.SoundFile(str(path)) as file:
            rate = file.samplerate
            samples = _mono(path, file)
    except (OSError, ValueError, soundfile.SoundFileError) as problem:
        raise AudioUnavailable(
            f"{path}: no audio file that can be read here: {problem}"
        ) from problem
    return to_pcm(resample(samples, rate, RATE))


def _mono(path: Path, file: soundfile.SoundFile) -> Samples:
    """All channels as one, read block by block, within limits of time and memory."""
    if not LEAST_HZ <= file.samplerate <= MOST_HZ:
        rates = f"{LEAST_HZ} to {MOST_HZ}"
        raise AudioUnavailable(f"{path}: {file.samplerate} samples a second; {rates} are sound")
    if file.channels > MOST_CHANNELS:
        raise AudioUnavailable(f"{path}: {file.channels} channels; up to {MOST_CHANNELS} are read")
    parts: list[Samples] = []
    length = 0
    while len(block := file.read(_BLOCK, dtype="float64", always_2d=True)):
        length += len(block)
        if length > MOST_SAMPLES:
            minutes = MOST_SAMPLES / file.samplerate / 60
            raise AudioUnavailable(f"{path}: longer than {minutes:.0f} minutes; cut it up")
        parts.append(block.mean(axis=1))
        if not np.isfinite(parts[-1]).all():
            raise AudioUnavailable(f"{path}: holds values that are no numbers")
    return np.concatenate(parts) if parts else np.zeros(0)


def resample(samples: Samples, rate: int, to: int) -> Samples:
    """Band-limited resampling of one channel by the discrete Fourier transform.

    The whole signal is one period, padded with a mirrored tenth of a second on both sides so that
    the ends don't ring into each other.
    """
    if rate == to or len(samples) == 0:
        return samples
    pad = min(len(samples) - 1, rate // 10)
    padded = np.pad(samples, pad, mode="reflect")
    count = round(len(padded) * to / rate)
    if not count:
        return samples[:0]
    spectrum = np.fft.rfft(padded)
    kept = np.zeros(count // 2 + 1, dtype=spectrum.dtype)
    shared = min(len(spectrum), len(kept))
    kept[:shared] = spectrum[:shared]
    out = np.fft.irfft(kept, count) * (count / len(padded))
    begin = round(pad * to / rate)
    return out[begin : begin + round(len(samples) * to / rate)]


def room_tone(samples: int, seed: int = 0, dbfs: float = -75.0) -> bytes:
    """Faint white noise, as from a quiet room: recognisers cope badly with digital silence."""
    return to_pcm(at_level_db(white(samples, seed), dbfs)) if samples > 1 else bytes(2 * samples)
