"""Makes speech sound as if said in another room, into another microphone, beside a machine.

All of it works on a batch on one device, so that no clip is ever heard the same way twice.
Levels are in units of 16-bit integers.
"""

from __future__ import annotations

import math
from typing import Final

import torch
from torch import Tensor

RATE: Final = 16_000
_ROOM_SAMPLES: Final = 6400
_BED_SAMPLES: Final = 20 * RATE
_SPAN: Final = 10 * RATE
"""What is transformed at once: the longest row and the longest tail of a room."""

LONGEST_ROW: Final = _SPAN - _ROOM_SAMPLES
_POINTS: Final = 10


def colored(count: int, samples: int, device: str) -> Tensor:
    """Computed noise at an RMS of 1: falling spectra, hums with harmonics, gusts, clatter."""
    spectrum = torch.fft.rfft(torch.randn(count, samples, device=device))
    bins = torch.arange(spectrum.shape[1], device=device).clamp(min=1)
    slope = torch.empty(count, 1, device=device).uniform_(0.0, 0.9)
    made = torch.fft.irfft(spectrum / bins**slope, samples)
    made = made / made.std(1, keepdim=True)
    seconds = torch.arange(samples, device=device) / RATE
    for row in range(0, count, 2):
        base = float(torch.empty(1).uniform_(25, 240))
        phase = 2 * math.pi * base * seconds + torch.sin(seconds * float(torch.rand(1) * 6))
        hum = torch.zeros(samples, device=device)
        for harmonic in range(1, 24):
            weight = float(torch.rand(1)) / harmonic ** float(torch.empty(1).uniform_(0.3, 1.2))
            hum += weight * torch.sin(harmonic * phase + float(torch.rand(1) * 6))
        made[row] = 0.4 * made[row] + hum / hum.std()
    for row in range(1, count, 4):
        beat = 0.5 + 0.5 * torch.sin(2 * math.pi * seconds * float(torch.empty(1).uniform_(1, 25)))
        made[row] = made[row] * beat ** float(torch.empty(1).uniform_(1, 12))
    return made / made.std(1, keepdim=True)


def rooms(count: int, device: str) -> Tensor:
    """Impulse responses: the direct sound and a tail of noise that dies away."""
    seconds = torch.arange(_ROOM_SAMPLES, device=device) / RATE
    decay = torch.empty(count, 1, device=device).uniform_(0.06, 0.6)
    tail = torch.randn(count, _ROOM_SAMPLES, device=device) * torch.exp(-6.9 * seconds / decay)
    tail[:, :16] = 0.0
    strength = 10 ** (torch.empty(count, 1, device=device).uniform_(-22.0, 2.0) / 20)
    made = tail / tail.pow(2).sum(1, keepdim=True).sqrt() * strength
    made[:, 0] = 1.0
    return made


def active_level(sound: Tensor) -> Tensor:
    """RMS of the louder 10 ms pieces, (batch, 1): those within 20 dB of the loudest."""
    whole = sound[:, : sound.shape[1] // 160 * 160].reshape(len(sound), -1, 160)
    power = whole.pow(2).mean(2)
    loud = power > 0.01 * power.amax(1, keepdim=True)
    level = (power * loud).sum(1, keepdim=True) / loud.sum(1, keepdim=True).clamp(min=1)
    return level.sqrt() + 1e-3


class Augment:
    """Draws a room, a microphone, a noise and a level for each of a batch.

    Args:
        noise: recordings of noise, any length, any level; may be empty.
        device: where to compute.
        noisy: share of the rows with noise that can be heard.
        lowest_db: least ratio of speech to noise in those.
    """

    def __init__(self, noise: list[Tensor], device: str, noisy: float, lowest_db: float) -> None:
        self._device = device
        self._noisy, self._lowest_db = noisy, lowest_db
        beds = [colored(48, _BED_SAMPLES, device)]
        for recording in noise:
            times = -(-_BED_SAMPLES // len(recording))
            bed = recording.to(device).float().repeat(times)[:_BED_SAMPLES]
            beds.append((bed / (bed.std() + 1e-6))[None])
        self._beds = torch.cat(beds)
        self._computed = 48
        self._rooms = torch.fft.rfft(rooms(256, device), _SPAN)

    def _uniform(self, count: int, low: float, high: float) -> Tensor:
        return torch.empty(count, 1, device=self._device).uniform_(low, high)

    def _chance(self, count: int, probability: float) -> Tensor:
        return torch.rand(count, 1, device=self._device) < probability

    def _curve(self, count: int, bins: int) -> Tensor:
        """A microphone's response, as amplitude: smooth, sometimes only a telephone's band."""
        octaves = torch.linspace(0, _POINTS - 1.001, bins, device=self._device)
        place = (octaves[-1] * torch.log2(1 + 63 * octaves / octaves[-1]) / 6).clamp(
            max=_POINTS - 1.001
        )
        left = place.floor().long()
        points = torch.randn(count, _POINTS, device=self._device) * self._uniform(count, 0.5, 5.0)
        decibels = torch.lerp(points[:, left], points[:, left + 1], place - left)
        hertz = torch.linspace(0, RATE / 2, bins, device=self._device)
        top = torch.where(self._chance(count, 0.25), self._uniform(count, 3200, 7000), 9000.0)
        bottom = torch.where(self._chance(count, 0.3), self._uniform(count, 80, 400), 10.0)
        decibels = decibels - 0.05 * (hertz - top).clamp(min=0).clamp(max=1200)
        octaves_under = torch.log2(bottom / hertz.clamp(min=5)).clamp(min=0, max=6)
        return 10 ** ((decibels - 12 * octaves_under) / 20)

    def _bed(self, count: int, samples: int, speech: Tensor) -> Tensor:
        """Noise at an RMS of 1 for each: recorded, computed, or other people's talk."""
        total = len(self._beds)
        recorded = torch.randint(
            min(self._computed, total - 1), total, (count,), device=self._device
        )
        computed = torch.randint(0, self._computed, (count,), device=self._device)
        which = torch.where(self._chance(count, 0.7)[:, 0], recorded, computed)
        pace = self._uniform(count, 0.8, 1.25)
        start = torch.randint(0, _BED_SAMPLES, (count, 1), device=self._device)
        at = (start + torch.arange(samples, device=self._device) * pace).long() % _BED_SAMPLES
        bed = self._beds[which].gather(1, at)
        talk = sum(
            speech[torch.randperm(count, device=self._device)].roll(4000 * turn, 1).flip(1)
            for turn in range(1, 5)
        )
        talk = talk / (talk.std(1, keepdim=True) + 1e-3)
        bed = torch.where(self._chance(count, 0.12), talk, bed)
        return bed / (bed.std(1, keepdim=True) + 1e-3)

    def __call__(self, speech: Tensor) -> Tensor:
        """The batch as it might have been recorded, (batch, samples), whole numbers."""
        count, samples = speech.shape
        bins = _SPAN // 2 + 1
        spectrum = torch.fft.rfft(speech, _SPAN)
        room = self._rooms[torch.randint(0, len(self._rooms), (count,), device=self._device)]
        spectrum = torch.where(self._chance(count, 0.55), spectrum * room, spectrum)
        spectrum = spectrum * self._curve(count, bins)
        speech = torch.fft.irfft(spectrum, _SPAN)[:, :samples]
        level = active_level(speech)
        noisy, ratio = self._chance(count, self._noisy), self._uniform(count, self._lowest_db, 25.0)
        snr = torch.where(noisy, ratio, self._uniform(count, 25.0, 60.0))
        sound = speech + self._bed(count, samples, speech) * level * 10 ** (-snr / 20)
        wanted = 32768 * 10 ** (self._uniform(count, -46.0, -10.0) / 20)
        sound = sound * wanted / active_level(sound)
        over = self._chance(count, 0.04)
        peak = sound.abs().amax(1, keepdim=True)
        sound = sound * torch.where(over, torch.ones_like(peak), (32000 / peak).clamp(max=1.0))
        return sound.round().clamp(-32768, 32767)


def masked(log_mel: Tensor) -> Tensor:
    """Hide two stretches of time and one of pitch in each of a batch (SpecAugment)."""
    count, frames, bins = log_mel.shape
    device = log_mel.device
    middle = log_mel.mean((1, 2), keepdim=True)
    at = torch.arange(frames, device=device)[None]
    for _ in range(max(2, frames // 250)):
        start = torch.randint(0, frames, (count, 1), device=device)
        width = torch.randint(0, 13, (count, 1), device=device)
        log_mel = torch.where(((at >= start) & (at < start + width))[..., None], middle, log_mel)
    pitch = torch.arange(bins, device=device)[None]
    start = torch.randint(0, bins, (count, 1), device=device)
    width = torch.randint(0, 8, (count, 1), device=device)
    return torch.where(((pitch >= start) & (pitch < start + width))[:, None], middle, log_mel)
