"""Quick measures while training, without a recogniser: phones wrong, and words chosen right."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import torch
import torch.nn.functional as F  # noqa: N812 - its usual name
from torch import Tensor

from assistant.acoustics.features import SHIFT, Cepstra
from assistant.acoustics.net import Net

QUIET_SAMPLES: Final = 6400
"""Of near-silence before and after a clip: a network that hears ahead needs something there."""


def edits(wanted: Sequence[int], found: Sequence[int]) -> int:
    """Least number of insertions, deletions and substitutions between two sequences."""
    row = list(range(len(found) + 1))
    for number, one in enumerate(wanted, start=1):
        above, row = row, [number]
        for at, other in enumerate(found, start=1):
            row.append(min(above[at] + 1, row[at - 1] + 1, above[at - 1] + (one != other)))
    return row[-1]


@torch.no_grad()
def log_probabilities(net: Net, cepstra: Cepstra, clips: Sequence[Tensor]) -> list[Tensor]:
    """Of each clip, (answers, classes); 0.4 s of near-silence are put around it."""
    net.eval()
    made = []
    device = next(net.parameters()).device
    for clip in clips:
        quiet = 3 * torch.randn(QUIET_SAMPLES, generator=torch.Generator().manual_seed(1))
        sound = torch.cat([quiet, clip.float(), quiet]).round().to(device)
        sound = sound[: len(sound) // SHIFT * SHIFT]
        made.append(net(cepstra(sound[None]))[0].log_softmax(-1))
    return made


def phone_errors(scores: Sequence[Tensor], wanted: Sequence[Sequence[int]]) -> float:
    """Share of phones wrong when each answer's best class is taken."""
    wrong = 0
    for each, phones in zip(scores, wanted, strict=True):
        best = each.argmax(-1).unique_consecutive().tolist()
        wrong += edits(list(phones), [one for one in best if one])
    return wrong / max(1, sum(len(phones) for phones in wanted))


def chosen(scores: Tensor, choices: Sequence[Sequence[int]]) -> int:
    """Number of the choice that the whole clip fits best."""
    count = len(choices)
    spread = scores[:, None].expand(-1, count, -1)
    target = torch.tensor([one for choice in choices for one in choice], device=scores.device)
    lengths = torch.tensor([len(choice) for choice in choices])
    losses = F.ctc_loss(
        spread, target, torch.full((count,), len(scores)), lengths, reduction="none"
    )
    return int(losses.argmin())
