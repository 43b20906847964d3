"""A neural synthesizer that is told phones, so that what it says is exactly what is labeled.

The model takes signs of the International Phonetic Alphabet and a style, 256 numbers: the first
half gives the sound of the voice, the second its melody and pace. Styles of many voices come with
it, and halves and mixtures of them give further voices.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import torch
import torch.nn.functional as F  # noqa: N812 - its usual name

from assistant.acoustics.onnx_torch import OnnxOnTorch
from assistant.acoustics.phones import CLASS, Pronunciation

SAMPLE_RATE: Final = 16_000
HELD_OUT_STYLE: Final = "jf_nezumi"
"""Speaks in the trials, so neither it nor a mixture of it trains."""

_SIGNS: Final = {
    "AA": "ɑ", "AE": "æ", "AH": "ʌ", "AO": "ɔ", "AW": "W", "AY": "I", "B": "b", "CH": "ʧ",
    "D": "d", "DH": "ð", "EH": "ɛ", "ER": "ɜɹ", "EY": "A", "F": "f", "G": "ɡ", "HH": "h",
    "IH": "ɪ", "IY": "i", "JH": "ʤ", "K": "k", "L": "l", "M": "m", "N": "n", "NG": "ŋ",
    "OW": "O", "OY": "Y", "P": "p", "R": "ɹ", "S": "s", "SH": "ʃ", "T": "t", "TH": "θ",
    "UH": "ʊ", "UW": "u", "V": "v", "W": "w", "Y": "j", "Z": "z", "ZH": "ʒ",
}  # fmt: skip
_WEAK: Final = {"AH": "ə", "ER": "əɹ"}
_BRITISH: Final = {"AA": "ɒ", "OW": "Q", "ER": "ɜː", "AO": "ɔː", "UW": "uː", "IY": "iː"}
_FRAME: Final = 600
"""Samples at 24 kHz that one unit of the model's durations stands for."""

_MOST_SIGNS: Final = 260
_DURATIONS: Final = "/encoder/Clip_output_0"


def signs_of(ways: Pronunciation, british: bool = False) -> str:
    """A word's pronunciation with stress marks ("S T EH1 P"), in the model's signs."""
    made = ""
    for phone in ways:
        bare, stress = phone.rstrip("012"), phone[-1]
        sign = _WEAK.get(bare) if stress == "0" else None
        if sign is None:
            sign = (_BRITISH.get(bare) if british else None) or _SIGNS[bare]
        made += {"1": "ˈ", "2": "ˌ"}.get(stress, "") + sign
    return made


@dataclass(frozen=True, slots=True)
class Spoken:
    """A piece of speech.

    Attributes:
        samples: at 16 kHz, 16 bits.
        classes: output classes of its phones, in order.
    """

    samples: npt.NDArray[np.int16]
    classes: tuple[int, ...]


def read_styles(folder: Path) -> dict[str, npt.NDArray[np.float32]]:
    """Styles by voice: a row for each length of text. The held-out voice is left out."""
    found = {}
    for path in sorted(folder.glob("*.npy")):
        if path.stem != HELD_OUT_STYLE:
            found[path.stem] = np.load(path).astype(np.float32)
    return found


def _english(name: str) -> bool:
    return name[0] in "ab"


class NeuralVoice:
    """The model and its voices.

    Args:
        model: the ONNX file.
        alphabet: number of each sign.
        styles: see `read_styles`; rows stand for evenly spaced lengths up to 510 signs.
        device: "cuda" or "cpu".
    """

    def __init__(
        self,
        model: Path,
        alphabet: Mapping[str, int],
        styles: Mapping[str, npt.NDArray[np.float32]],
        device: str,
    ) -> None:
        self._run = OnnxOnTorch(model, device)
        self._alphabet = alphabet
        self._styles = styles
        self._english = [name for name in styles if _english(name)]
        self._device = device
        self._filter = _lowpass().to(device)

    def _style(self, length: int, random: random.Random) -> tuple[npt.NDArray[Any], str]:
        """A voice, a mixture, or the sound of one with the melody of another."""

        def row(name: str) -> npt.NDArray[Any]:
            rows = self._styles[name]
            return rows[min(len(rows) - 1, length * len(rows) // 510)]

        kind = random.random()
        among = self._english if kind < 0.45 else list(self._styles)
        if kind < 0.6:
            name = random.choice(among)
            return row(name), name
        names = [random.choice(among) for _ in range(random.choice((2, 2, 3)))]
        parts = np.random.default_rng(random.getrandbits(32)).dirichlet([0.8] * len(names))
        sound = sum(part * row(name) for part, name in zip(parts, names, strict=True))
        melody = row(random.choice(self._english))
        return np.concatenate([sound[:128], melody[128:]]), names[0]

    def speak(
        self, phrases: Sequence[Sequence[Pronunciation]], random: random.Random
    ) -> list[Spoken]:
        """Say phrases one after the other in one breath and cut them apart in the pauses.

        Phrases that no longer fit in what the model takes at once are left out.
        """
        text: list[int] = []
        ends: list[int] = []
        rough = 6 * sum(len(word) for phrase in phrases for word in phrase) // 5
        style, name = self._style(min(rough, _MOST_SIGNS), random)
        british = name.startswith("b") and random.random() < 0.7
        said = []
        for phrase in phrases:
            signs = " ".join(signs_of(word, british) for word in phrase) + random.choice(",,,.")
            if len(text) + len(signs) > _MOST_SIGNS:
                break
            text += [self._alphabet[sign] for sign in signs + " "]
            ends.append(len(text))
            said.append(phrase)
        made = self._run(
            {
                "tokens": torch.tensor([[0, *text, 0]]),
                "style": torch.tensor(style[None], dtype=torch.float32, device=self._device),
                "speed": torch.tensor([random.uniform(0.7, 1.35)], device=self._device),
            },
            keep=(_DURATIONS,),
        )
        sound = self._at_16_khz(made["audio"].reshape(-1))
        steps = made[_DURATIONS].reshape(-1).cumsum(0).cpu().numpy().astype(int) * _FRAME * 2 // 3
        gaps = [(steps[max(0, end - 2)] - 2 * _FRAME, steps[end]) for end in ends[:-1]]
        return _cut(sound, gaps, said)

    def _at_16_khz(self, sound: torch.Tensor) -> npt.NDArray[np.float32]:
        """Two thirds of the rate: every other sample a zero, a low pass, every third one kept."""
        doubled = torch.zeros(2 * len(sound), device=sound.device)
        doubled[::2] = sound
        half = len(self._filter) // 2
        made = F.conv1d(doubled[None, None], self._filter[None, None], stride=3, padding=half)
        return np.asarray(made.reshape(-1).cpu().numpy(), dtype=np.float32)


def _lowpass(half: int = 48) -> torch.Tensor:
    """Windowed sinc that passes a third of the doubled rate's band; it doubles the level."""
    at = torch.arange(-half, half + 1, dtype=torch.float32)
    return 2 * torch.sinc(at * 0.32) * 0.32 * torch.hann_window(2 * half + 1, periodic=False)


def _cut(
    sound: npt.NDArray[np.float32],
    gaps: Sequence[tuple[int, int]],
    said: Sequence[Sequence[Pronunciation]],
) -> list[Spoken]:
    """Cut where it is stillest between two phrases; leave them together where it never is still.

    The model's durations run up to a tenth of a second behind its sound, so they only say about
    where to look.
    """
    step = SAMPLE_RATE // 100
    whole = sound[: len(sound) // step * step].reshape(-1, step)
    level = np.sqrt(np.convolve((whole**2).mean(axis=1), np.ones(3) / 3, mode="same"))
    still = 0.04 * float(np.quantile(level, 0.9))
    made, start, words = [], 0, list(said[0])
    for (low, high), following in zip(gaps, said[1:], strict=True):
        first, last = max(0, int(low) // step), int(high) // step + 1
        at = first + int(np.argmin(level[first:last])) if first < min(last, len(level)) else 0
        if at * step > start and level[at] < still:
            made.append(_piece(sound[start : at * step], words))
            start, words = at * step, []
        words += list(following)
    return [*made, _piece(sound[start:], words)]


def _piece(sound: npt.NDArray[np.float32], words: Sequence[Pronunciation]) -> Spoken:
    peak = float(np.abs(sound).max()) + 1e-6
    whole = np.rint(sound / peak * 0.7 * 32767).astype(np.int16)
    return Spoken(whole, tuple(CLASS[p.rstrip("012")] for word in words for p in word))
