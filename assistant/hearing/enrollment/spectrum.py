"""Sound as what phrases are compared by: mel cepstra under a learned metric, in a given room.

A take of a phrase was recorded in some room; it is compared with an utterance in another. So the
take is kept as powers in mel bands, brought to the utterance's level, and the utterance's room is
added to it before the logarithm: then noise hides the same parts of both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

import numpy as np
from numpy.typing import NDArray

from assistant.errors import BadInput

Frames = NDArray[np.float64]
"""One row a frame of 10 ms."""

RATE: Final = 16_000
HOP: Final = 160
WINDOW: Final = 400
BANDS: Final = 32
CEPSTRA: Final = 16
DIMENSIONS: Final = 40
_FFT: Final = 512
_LOW_HZ, _HIGH_HZ = 100.0, 7600.0
_PRE_EMPHASIS: Final = 0.97
_FLOOR: Final = 1e-4
"""Of the speech's power: 40 dB under it nothing counts. Chosen on the development speakers."""
_ROOM_SHARE: Final = 0.15
_LEAST_DB: Final = 25.0
_OVER_ROOM_DB: Final = 4.0


@dataclass(frozen=True, slots=True)
class Take:
    """A recording of one phrase.

    Attributes:
        power: its frames by mel bands.
        room: power of the room by mel band.
        first, last: frames of the phrase, the last not included.
    """

    power: Frames
    room: Frames
    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Compared:
    """An utterance and the takes put in its room.

    Attributes:
        said: the utterance's frames.
        room: the frame of its room.
        takes: the frames of each take's phrase.
    """

    said: Frames
    room: Frames
    takes: tuple[Frames, ...]


@cache
def _mel_bank() -> Frames:
    """Triangles on the mel scale 1127 ln(1 + f/700) (O'Shaughnessy 1987), each of unit sum."""
    low, high = (1127 * np.log1p(hertz / 700) for hertz in (_LOW_HZ, _HIGH_HZ))
    corners = 700 * np.expm1(np.linspace(low, high, BANDS + 2) / 1127)
    hertz = np.arange(_FFT // 2 + 1) * RATE / _FFT
    left, top, right = (corners[i : BANDS + i, None] for i in range(3))
    bank = np.clip(
        np.minimum((hertz - left) / (top - left), (right - hertz) / (right - top)), 0, None
    )
    return np.asarray(bank / np.maximum(bank.sum(axis=1, keepdims=True), 1e-9))


@cache
def _cosines() -> Frames:
    middle = np.arange(BANDS) + 0.5
    waves = np.cos(np.pi / BANDS * np.outer(np.arange(CEPSTRA), middle))
    return np.asarray(waves * np.sqrt(2 / BANDS))


@cache
def shipped_metric() -> Frames:
    """The learned metric, 3 * CEPSTRA by DIMENSIONS; made by tests/hearing/learn_metric.py."""
    path = files("assistant.hearing").joinpath("enrollment/data/metric.npy")
    with path.open("rb") as file:
        return np.asarray(np.load(file, allow_pickle=False), dtype=np.float64)


def mel_powers(samples: Frames) -> Frames:
    """Power by mel band, a row for each 10 ms.

    Args:
        samples: 16 kHz, -1 to 1.

    Raises:
        BadInput: under 25 ms of sound.
    """
    if len(samples) < WINDOW:
        raise BadInput(f"{len(samples)} samples are too few for one frame of {WINDOW}")
    flat = np.append(samples[0], samples[1:] - _PRE_EMPHASIS * samples[:-1])
    windows = np.lib.stride_tricks.sliding_window_view(flat, WINDOW)[::HOP] * np.hamming(WINDOW)
    return np.asarray(np.abs(np.fft.rfft(windows, _FFT)) ** 2 @ _mel_bank().T + 1e-12)


def room_of(power: Frames) -> Frames:
    """Power of the room by band: the mean of the quietest frames."""
    order = np.argsort(power.sum(axis=1))
    return np.asarray(power[order[: max(3, int(len(order) * _ROOM_SHARE))]].mean(axis=0))


def take_of(samples: Frames) -> Take:
    """A take, with where the phrase lies in it: within 25 dB of its peak, over the room.

    Raises:
        BadInput: no sound to speak of.
    """
    power = mel_powers(samples)
    room = room_of(power)
    level = _smoothed(10 * np.log10(power[:, 3:].sum(axis=1)))
    least = max(
        float(np.percentile(level, 98)) - _LEAST_DB,
        10 * float(np.log10(room[3:].sum())) + _OVER_ROOM_DB,
    )
    loud = np.flatnonzero(level > least)
    if not len(loud):
        raise BadInput("nothing in this take stands out of the room")
    return Take(power, room, max(int(loud[0]) - 2, 0), min(int(loud[-1]) + 3, len(power)))


def _smoothed(level: Frames) -> Frames:
    """Mean of three frames; beyond the ends it is as at them, not a loud 0 dB."""
    return np.convolve(np.pad(level, 1, mode="edge"), np.ones(3) / 3, "valid")


def compared(takes: Sequence[Take], samples: Frames, metric: Frames | None = None) -> Compared:
    """An utterance and takes on equal terms.

    Args:
        takes: of phrases.
        samples: the utterance, 16 kHz, -1 to 1, with a little of its room.
        metric: maps cepstra and their two differences; the shipped one if left out.

    Raises:
        BadInput: under 25 ms of sound.
    """
    metric = shipped_metric() if metric is None else metric
    power = mel_powers(samples)
    room = room_of(power)
    level = _level(power)
    speech = max(level - float(room.sum()), level * 0.05)
    said = cepstra(power + room, level) @ metric
    put = []
    for take in takes:
        gain = speech / _level(take.power)
        alone = np.maximum((take.power - take.room) * gain, 0) + room
        put.append((cepstra(alone + room, level) @ metric)[take.first : take.last])
    quiet = power.sum(axis=1) <= max(room.sum() * 2.5, level * 10**-2.5)
    between = said[quiet] if quiet.sum() > 5 else said[:30]
    return Compared(said, np.asarray(between.mean(axis=0)), tuple(put))


def _level(power: Frames) -> float:
    return float(np.percentile(power.sum(axis=1), 97))


def cepstra(power: Frames, level: float) -> Frames:
    """Mel cepstra of power against a level, with their first and second differences over time."""
    plain = np.log(power / level + _FLOOR) @ _cosines().T
    change = _slope(plain)
    return np.concatenate([plain, change, _slope(change)], axis=1)


def _slope(frames: Frames) -> Frames:
    """Regression slope over five frames (Furui 1986)."""
    wide = np.pad(frames, ((2, 2), (0, 0)), mode="edge")
    count = len(frames)
    steps = [wide[2 + i : 2 + i + count] - wide[2 - i : 2 - i + count] for i in (1, 2)]
    return np.asarray((steps[0] + 2 * steps[1]) / 10)
