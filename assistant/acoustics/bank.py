"""All training speech in the device's memory, and rows of it in ever new order.

A row is about ten seconds of pieces one after the other, people and synthesizers mixed, each at
its own pace and level, with gaps of many lengths. So no word has a usual neighbor, and no row is
padded.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
import numpy.typing as npt
import torch
from torch import Tensor

from assistant.acoustics.augment import LONGEST_ROW, RATE

_EDGE: Final = 1600
ANSWER_SAMPLES: Final = 480
"""Samples from one answer of the network to the next."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One labeled piece of speech.

    Attributes:
        samples: 16 kHz, 16 bits.
        classes: output classes of its phones.
        kind: "human", "fragment" (a part of a person's word), "neural", "flite" or "espeak".
        words: its words; only people's are counted, to balance them.
    """

    samples: npt.NDArray[np.int16]
    classes: Sequence[int]
    kind: str
    words: str = ""


class Part(NamedTuple):
    """What of a row's answers belongs to one piece: from `first` to before `end`."""

    row: int
    first: int
    end: int
    classes: list[int]


def word_weights(pieces: Sequence[Piece], power: float) -> list[float]:
    """How often to take each piece: less for words that many clips say.

    A clip of words that n clips say counts n**-power, with n the geometric mean over its words.
    """
    counts = Counter(word for piece in pieces for word in piece.words.split())
    made = []
    for piece in pieces:
        words = piece.words.split()
        mean = np.mean([np.log(counts[word]) for word in words]) if words else 0.0
        made.append(float(np.exp(-power * mean)) * max(1, len(words)) ** 0.5)
    return made


class Bank:
    """The pieces on a device.

    Args:
        pieces: those to train on.
        shares: how much of the pieces drawn should be of each kind; kinds without pieces drop out.
        device: "cuda" or "cpu".
        balance: see `word_weights`.
        seed: of the order.
    """

    def __init__(
        self,
        pieces: Sequence[Piece],
        shares: dict[str, float],
        device: str,
        balance: float = 0.7,
        seed: int = 1,
    ) -> None:
        self._device = device
        self._chance = random.Random(seed)  # noqa: S311 - no secrets
        self._classes = [list(piece.classes) for piece in pieces]
        self._lengths = [len(piece.samples) for piece in pieces]
        starts = np.concatenate([[0], np.cumsum(self._lengths)])
        self._starts = starts.tolist()
        whole = np.concatenate([piece.samples for piece in pieces])
        self._samples = torch.from_numpy(whole).to(device)
        self._part = [piece.kind == "fragment" for piece in pieces]
        self._kinds: list[tuple[list[int], list[float] | None]] = []
        self._shares: list[float] = []
        for kind, share in shares.items():
            numbers = [at for at, piece in enumerate(pieces) if piece.kind == kind]
            if not numbers or share <= 0:
                continue
            weights = None
            if kind == "human":
                each = word_weights([pieces[at] for at in numbers], balance)
                weights = np.cumsum(each).tolist()
            self._kinds.append((numbers, weights))
            self._shares.append(share)
        self.seconds = len(whole) / RATE

    def _draw(self) -> int:
        numbers, weights = self._chance.choices(self._kinds, self._shares)[0]
        if weights is None:
            return numbers[int(self._chance.random() * len(numbers))]
        return self._chance.choices(numbers, cum_weights=weights)[0]

    def plan(self, rows: int) -> tuple[npt.NDArray[np.float64], list[list[int]]]:
        """Where which piece goes.

        Returns:
            For each piece: row, first sample in the row, length there, start in the bank, pace,
            level, number of the piece. And the classes of each row.
        """
        chance = self._chance
        places: list[tuple[float, ...]] = []
        classes: list[list[int]] = []
        for row in range(rows):
            at = chance.randint(_EDGE // 2, 6 * _EDGE)
            said: list[int] = []
            missed = 0
            while missed < 3:
                piece = self._draw()
                pace = chance.uniform(0.85, 1.18)
                length = int((self._lengths[piece] - 2) / pace)
                if at + length > LONGEST_ROW - _EDGE:
                    missed += 1
                    continue
                level = 10 ** (chance.gauss(0, 3) / 20)
                places.append((row, at, length, self._starts[piece], pace, level, piece))
                said += self._classes[piece]
                gap = 0.04 if self._part[piece] else chance.choice((0.05, 0.15, 0.4, 1.0))
                at += length + int(chance.random() * gap * RATE)
            classes.append(said)
        return np.array(places), classes

    def parts(self, places: npt.NDArray[np.float64]) -> list[Part]:
        """Where the network answers for each piece, and its classes."""
        return [
            Part(
                int(row),
                int(at + ANSWER_SAMPLES / 3) // ANSWER_SAMPLES,
                int(at + length - ANSWER_SAMPLES / 3) // ANSWER_SAMPLES,
                self._classes[int(piece)],
            )
            for row, at, length, _start, _pace, _level, piece in places.tolist()
        ]

    def sound(self, places: npt.NDArray[np.float64], rows: int) -> Tensor:
        """The rows, (rows, LONGEST_ROW), by cubic interpolation at each piece's pace."""
        device = self._device
        row, at, length, start, pace, level = torch.from_numpy(places).to(device).T[:6]
        counts = length.long()
        which = torch.repeat_interleave(torch.arange(len(counts), device=device), counts)
        ends = counts.cumsum(0)
        inside = torch.arange(len(which), device=device) - (ends - counts)[which]
        place = inside * pace[which]
        whole = place.floor()
        t = (place - whole).float()
        index = (start[which] + whole).long()
        last = len(self._samples) - 1
        p0, p1, p2, p3 = (
            self._samples[(index + shift).clamp(0, last)].float() for shift in (-1, 0, 1, 2)
        )
        curve = p1 + 0.5 * t * (
            p2 - p0 + t * (2 * p0 - 5 * p1 + 4 * p2 - p3 + t * (3 * (p1 - p2) + p3 - p0))
        )
        made = torch.zeros(rows * LONGEST_ROW, device=device)
        target = (row[which] * LONGEST_ROW + at[which]).long() + inside
        made[target] = curve * level[which].float()
        return made.reshape(rows, LONGEST_ROW)
