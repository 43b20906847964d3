"""Kaldi's mel-frequency cepstra, as Vosk computes them, for a batch on any device.

Options as in `conf/mfcc.conf` of the exported model: 40 mel bins from 20 to 7600 Hz, 40 cepstra,
frames of 25 ms every 10 ms that fit wholly into the sound, no dither. The formulas follow the
Kaldi documentation of those options; tests compare them with another implementation and with
what Vosk itself hears.
"""

from __future__ import annotations

import math
from typing import Final

import torch
from torch import Tensor

RATE: Final = 16_000
FRAME: Final = 400
SHIFT: Final = 160
CEPSTRA: Final = 40
OPTIONS: Final = """--use-energy=false
--num-mel-bins=40
--num-ceps=40
--low-freq=20
--high-freq=7600
--allow-upsample=true
--allow-downsample=true
--dither=0
"""
_FFT: Final = 512
_LOW_HZ: Final = 20.0
_HIGH_HZ: Final = 7600.0
_LIFTER: Final = 22.0
_FLOOR: Final = 1.1920929e-07
_EMPHASIS: Final = 0.97


def frames_in(samples: Tensor) -> Tensor:
    """How many frames fit into so many samples."""
    return torch.div(samples - FRAME, SHIFT, rounding_mode="floor").clamp(min=-1) + 1


def _mel(hertz: Tensor) -> Tensor:
    return 1127.0 * torch.log(1.0 + hertz / 700.0)


def mel_weights(warp: float = 1.0) -> Tensor:
    """Triangular filters, (40, 257); `warp` moves their places as another vocal tract would.

    Frequencies up to 6 kHz are multiplied by `warp`, and the rest is squeezed so that the ends
    stay.
    """
    edges = torch.linspace(float(_mel(torch.tensor(_LOW_HZ))), float(_mel(torch.tensor(_HIGH_HZ))),
                           CEPSTRA + 2)  # fmt: skip
    bins = torch.arange(_FFT // 2, dtype=torch.float32) * RATE / _FFT
    knee = 6000.0 / max(1.0, warp)
    low = bins * warp
    high = knee * warp + (bins - knee) * (8000.0 - knee * warp) / (8000.0 - knee)
    at = _mel(torch.where(bins < knee, low, high))
    left, center, right = edges[:-2, None], edges[1:-1, None], edges[2:, None]
    up, down = (at - left) / (center - left), (right - at) / (right - center)
    weights = torch.minimum(up, down).clamp(min=0.0)
    return torch.nn.functional.pad(weights, (0, 1))


def _cosines() -> Tensor:
    """Type-II discrete cosine transform with its lifter, (40, 40): log mel -> cepstra."""
    k = torch.arange(CEPSTRA, dtype=torch.float64)[:, None]
    n = torch.arange(CEPSTRA, dtype=torch.float64)[None]
    made = math.sqrt(2.0 / CEPSTRA) * torch.cos(math.pi / CEPSTRA * (n + 0.5) * k)
    made[0] = math.sqrt(1.0 / CEPSTRA)
    lifter = 1.0 + 0.5 * _LIFTER * torch.sin(math.pi * k / _LIFTER)
    return (made * lifter).float()


def _window() -> Tensor:
    at = torch.arange(FRAME, dtype=torch.float64)
    hann = 0.5 - 0.5 * torch.cos(2 * math.pi * at / (FRAME - 1))
    return hann.pow(0.85).float()


class Cepstra:
    """The features of a batch.

    Args:
        device: where to compute.
        warps: vocal tract factors to choose from, see `mel_weights`.
    """

    def __init__(self, device: str, warps: tuple[float, ...] = (1.0,)) -> None:
        self._weights = torch.stack([mel_weights(warp) for warp in warps]).to(device)
        self._window = _window().to(device)
        self._cosines = _cosines().to(device)

    def log_mel(self, samples: Tensor, warp: Tensor | None = None) -> Tensor:
        """Logarithms of mel power, (batch, frames, 40).

        Args:
            samples: (batch, samples), in units of 16-bit integers.
            warp: number of the factor for each of the batch; None for the first.
        """
        frames = samples.unfold(1, FRAME, SHIFT)
        frames = frames - frames.mean(2, keepdim=True)
        before = torch.cat([frames[..., :1], frames[..., :-1]], 2)
        spectrum = torch.fft.rfft((frames - _EMPHASIS * before) * self._window, _FFT)
        power = spectrum.real**2 + spectrum.imag**2
        weights = self._weights[:1] if warp is None else self._weights[warp]
        return torch.matmul(power, weights.transpose(1, 2)).clamp(min=_FLOOR).log()

    def cepstra(self, log_mel: Tensor) -> Tensor:
        """Cepstra of logarithms of mel power."""
        return torch.matmul(log_mel, self._cosines.T)

    def __call__(self, samples: Tensor) -> Tensor:
        """Cepstra of sound, (batch, frames, 40)."""
        return self.cepstra(self.log_mel(samples))
