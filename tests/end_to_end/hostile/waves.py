"""Audio files whose headers lie: WAV, FLAC, Ogg; and sounds that are none."""

from __future__ import annotations

import io
import struct
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import soundfile


def wave(  # noqa: PLR0917 - the fields of the header
    channels: int, rate: int, bits: int, size: int, body: bytes, form: int = 1
) -> bytes:
    """A RIFF WAVE file with these fields, whatever they say of its body."""
    block = max(1, channels * bits // 8) & 0xFFFF
    head = struct.pack("<HHIIHH", form, channels, rate, (rate * block) & 0xFFFFFFFF, block, bits)
    chunks = b"WAVEfmt " + struct.pack("<I", 16) + head + b"data" + struct.pack("<I", size)
    return b"RIFF" + struct.pack("<I", 36 + len(body)) + chunks + body


def _encoded(kind: str, samples: object, rate: int = 16_000, subtype: str | None = None) -> bytes:
    out = io.BytesIO()
    soundfile.write(out, samples, rate, format=kind, subtype=subtype)
    return out.getvalue()


def _tone() -> npt.NDArray[np.float64]:
    """A second of 433 Hz."""
    return np.asarray(0.3 * np.sin(np.arange(16_000) * 0.17), dtype=np.float64)


def _floats(*odd: float) -> bytes:
    samples = _tone().astype("<f4")
    samples[100 : 100 + len(odd)] = odd
    return wave(1, 16_000, 32, 4 * len(samples), samples.tobytes(), form=3)


def _flac(change: Callable[[bytearray], None]) -> bytes:
    """A FLAC file with its STREAMINFO (RFC 9639, 8.2) changed; it begins at byte 8."""
    raw = bytearray(_encoded("FLAC", _tone()))
    change(raw)
    return bytes(raw)


def _flac_rate(raw: bytearray, rate: int = 0xFFFFF) -> None:
    packed = int.from_bytes(raw[18:26], "big") & ~(0xFFFFF << 44) | rate << 44
    raw[18:26] = packed.to_bytes(8, "big")


def _flac_length(raw: bytearray) -> None:
    packed = int.from_bytes(raw[18:26], "big") | (1 << 36) - 1
    raw[18:26] = packed.to_bytes(8, "big")


def _flac_noise(raw: bytearray) -> None:
    raw[200:400] = bytes((n * 167 + 13) & 0xFF for n in range(200))


def _silent_hours() -> bytes:
    """Eight hours of silence in a file of a few hundred kilobytes."""
    out = io.BytesIO()
    with soundfile.SoundFile(out, "w", 16_000, 1, format="FLAC", subtype="PCM_16") as file:
        hour = np.zeros(16_000 * 60, dtype="int16")
        for _ in range(480):
            file.write(hour)
    return out.getvalue()


def _cut(raw: bytes) -> bytes:
    return raw[: len(raw) // 2]


def _ogg_serial() -> bytes:
    raw = bytearray(_encoded("OGG", _tone()))
    raw[6:14] = b"\xff" * 8
    return bytes(raw)


_BODY = bytes(3200)
SOUNDS: dict[str, Callable[[], bytes]] = {
    "WAV: size 4 GiB": lambda: wave(1, 16_000, 16, 0xFFFFFFF0, _BODY),
    "WAV: size 0": lambda: wave(1, 16_000, 16, 0, _BODY),
    "WAV: 0 channels": lambda: wave(0, 16_000, 16, len(_BODY), _BODY),
    "WAV: 60,000 channels": lambda: wave(60_000, 16_000, 16, len(_BODY), _BODY),
    "WAV: 1,000 channels": lambda: wave(1_000, 16_000, 16, len(_BODY), _BODY),
    "WAV: rate 0": lambda: wave(1, 0, 16, len(_BODY), _BODY),
    "WAV: rate 1 Hz": lambda: wave(1, 1, 8, 2_000_000, bytes(range(250)) * 8_000),
    "WAV: rate 2^31": lambda: wave(1, 1 << 31, 16, len(_BODY), _BODY),
    "WAV: rate 2^31-1": lambda: wave(1, (1 << 31) - 1, 16, len(_BODY), _BODY),
    "WAV: rate 2^32-1": lambda: wave(1, 0xFFFFFFFF, 16, len(_BODY), _BODY),
    "WAV: 0 bits": lambda: wave(1, 16_000, 0, len(_BODY), _BODY),
    "WAV: 255 bits": lambda: wave(1, 16_000, 255, len(_BODY), _BODY),
    "WAV: form 0xFFFF": lambda: wave(1, 16_000, 16, len(_BODY), _BODY, form=0xFFFF),
    "WAV: cut in the head": lambda: wave(1, 16_000, 16, len(_BODY), _BODY)[:20],
    "WAV: NaN samples": lambda: _floats(float("nan")),
    "WAV: infinite samples": lambda: _floats(float("inf"), float("-inf")),
    "WAV: samples of 1e38": lambda: _floats(3e38, -3e38),
    "WAV: nothing but NaN": lambda: _floats(*[float("nan")] * 15_000),
    "WAV: no samples": lambda: wave(1, 16_000, 16, 0, b""),
    "WAV: one sample": lambda: wave(1, 8_000, 16, 2, b"\1\1"),
    "empty": lambda: b"",
    "FLAC: head only": lambda: b"fLaC" + bytes(38),
    "FLAC: rate 2^20-1": lambda: _flac(_flac_rate),
    "FLAC: rate 0": lambda: _flac(lambda raw: _flac_rate(raw, 0)),
    "FLAC: 2^36-1 samples": lambda: _flac(_flac_length),
    "FLAC: cut": lambda: _cut(_encoded("FLAC", _tone())),
    "FLAC: damaged frames": lambda: _flac(_flac_noise),
    "FLAC: 8 hours of silence": _silent_hours,
    "FLAC: 8 channels": lambda: _encoded("FLAC", np.tile(_tone()[:, None], 8)),
    "FLAC: 655,350 Hz": lambda: _encoded("FLAC", _tone(), 655_350),
    "Ogg: head only": lambda: b"OggS" + bytes(60),
    "Ogg: cut": lambda: _cut(_encoded("OGG", _tone())),
    "Ogg: position 2^64-1": _ogg_serial,
    "Ogg: noise inside": lambda: _encoded("OGG", _tone())[:300] + b"\xa5" * 3000,
    "text": lambda: b"step complete\n" * 100,
}
