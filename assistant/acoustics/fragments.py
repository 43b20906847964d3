"""Parts of people's words, so that phones are learned from them and not the words.

Few words were recorded from people, so a network could learn those words by heart. A network
trained so far finds where each phone lies; the clips are then cut between phones, and the parts
are put behind one another in rows: words that nobody ever said, in people's voices.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Sequence
from typing import Any, Final

import numpy as np
import numpy.typing as npt
import torch

from assistant.acoustics.bank import ANSWER_SAMPLES, Piece
from assistant.acoustics.features import Cepstra
from assistant.acoustics.net import Net
from assistant.acoustics.scoring import QUIET_SAMPLES, log_probabilities

_MIDDLE: Final = 200
_FADE: Final = 80


def spikes(scores: npt.NDArray[np.float32], phones: Sequence[int]) -> list[int]:
    """The answer at which each phone is heard on the best path through all of them, in order.

    Args:
        scores: log probabilities, (answers, classes), class 0 the blank.
        phones: their classes.
    """
    path = [0]
    for phone in phones:
        path += [phone, 0]
    score = scores[:, path]
    states = len(path)
    best = np.full(states, -np.inf)
    best[:2] = score[0, :2]
    skip = np.array([at > 1 and path[at] != 0 and path[at] != path[at - 2] for at in range(states)])
    back = np.zeros((len(scores), states), np.int8)
    for at in range(1, len(scores)):
        one = np.concatenate([[-np.inf], best[:-1]])
        two = np.where(skip, np.concatenate([[-np.inf, -np.inf], best[:-2]]), -np.inf)
        ways = np.stack([best, one, two])
        back[at] = ways.argmax(0)
        best = ways.max(0) + score[at]
    state = states - 1 if best[-1] > best[-2] else states - 2
    where: dict[int, int] = {}
    for at in range(len(scores) - 1, -1, -1):
        if state % 2 and scores[at, path[state]] >= scores[where.get(state, at), path[state]]:
            where[state] = at
        state -= int(back[at, state])
    return [where.get(2 * number + 1, 0) for number in range(len(phones))]


def fragments(rows: Sequence[dict[str, Any]], net: Net, device: str, seed: int = 1) -> list[Piece]:
    """Parts of two to five phones of people's clips, about as many as the clips have phones / 2."""
    chance = random.Random(seed)  # noqa: S311 - no secrets
    scores = log_probabilities(net, Cepstra(device), [torch.from_numpy(r["samples"]) for r in rows])
    made = []
    for row, score in zip(rows, scores, strict=True):
        phones = row["classes"]
        if len(phones) < 3 or len(score) < 2 * len(phones):
            continue
        places = spikes(score.cpu().numpy(), phones)
        heard = [at * ANSWER_SAMPLES + _MIDDLE - QUIET_SAMPLES for at in places]
        between = [(one + other) // 2 for one, other in itertools.pairwise(heard)]
        edges = [0, *between, len(row["samples"])]
        for _ in range(max(1, len(phones) // 2)):
            first = chance.randrange(len(phones) - 1)
            last = min(len(phones), first + chance.randint(2, 5))
            sound = row["samples"][max(0, edges[first]) : max(0, edges[last])].astype(np.float32)
            if last - first == len(phones) or len(sound) < ANSWER_SAMPLES * (last - first):
                continue
            ramp = np.linspace(0, 1, _FADE, dtype=np.float32)
            sound[:_FADE] *= ramp
            sound[-_FADE:] *= ramp[::-1]
            made.append(Piece(sound.astype(np.int16), phones[first:last], "fragment"))
    return made
