"""Learns the metric that enrollment compares frames with: `python -m tests.hearing.learn_metric`.

From the development speakers only (`enrolled_people`): over the best paths of an utterance to takes
of the same word, and to the likeliest takes of other words, the scatter of the differences. The
metric whitens the first and weighs each remaining direction by how far the second exceeds it
("keep it simple and straightforward" metric, Koestinger et al., CVPR 2012, as a projection).
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

from assistant.hearing.enrollment import spectrum
from assistant.hearing.enrollment.spectrum import Frames, compared, take_of
from assistant.hearing.enrollment.warping import IMPOSSIBLE, distances
from tests.hearing.enrolled_people import in_room, speakers, trials

TARGET = Path(spectrum.__file__).parent / "data" / "metric.npy"
ROOMS = (None, 15.0, 8.0, 3.0)
FIRST = np.diag(
    np.repeat([1.0, 4.0, 24.0], spectrum.CEPSTRA)
    * np.where(np.arange(3 * spectrum.CEPSTRA) % spectrum.CEPSTRA == 0, 0.3, 1.0)
)
"""Cepstra and their differences, weighed by hand: what the paths are found with at first."""


def path(said: Frames, take: Frames, room: Frames) -> list[tuple[int, int]]:
    """The best alignment, (utterance frame, take frame), by the rules of `warping`."""
    local = np.maximum((said**2).sum(1)[:, None] + (take**2).sum(1) - 2 * said @ take.T, 0)
    quiet = np.concatenate([[0], np.cumsum(((said - room) ** 2).sum(axis=1))])
    frames, length = local.shape
    moved = np.full((frames, length + 2), IMPOSSIBLE)
    stayed, skipped = moved.copy(), np.zeros((frames, length), dtype=bool)
    for t in range(frames):
        best = np.full(length + 2, IMPOSSIBLE)
        if t:
            best = np.minimum(moved[t - 1], stayed[t - 1])
            stayed[t, 2:] = moved[t - 1, 2:] + local[t]
        one, two = best[1:-1].copy(), best[:-2].copy()
        one[0], two[1:2] = quiet[t], quiet[t]
        skipped[t] = two < one
        moved[t, 2:] = np.minimum(one, two) + local[t]
    total = np.minimum(moved, stayed)[:, -2:] + (quiet[-1] - quiet[1:])[:, None]
    t, last = (int(at) for at in np.unravel_index(int(np.argmin(total)), total.shape))
    j = length - 2 + last
    steps: list[tuple[int, int]] = []
    while t >= 0 and j >= 0:
        steps.append((t, j))
        if stayed[t, j + 2] < moved[t, j + 2]:
            t -= 1
            steps.append((t, j))
        back = 2 if skipped[t, j] else 1
        if j == 0 or (j == 1 and back == 2):
            break
        t, j = t - 1, j - back
    return steps[::-1]


def scatters() -> tuple[Frames, Frames]:
    """Mean outer products of differences to the same word and to other words."""
    plain = np.eye(3 * spectrum.CEPSTRA)
    scatter = [np.zeros_like(plain), np.zeros_like(plain)]
    counts = [0, 0]
    for number, trial in enumerate(trials(speakers()[0], said=2)):
        words = [word for word, clips in trial.enrolled.items() for _ in clips]
        takes = [take_of(in_room(c, None, 1)) for clips in trial.enrolled.values() for c in clips]
        for turn, (word, clip) in enumerate(trial.said):
            snr_db = ROOMS[(number + turn) % len(ROOMS)]
            noisy = in_room(clip, snr_db, 7777 + 1000 * number + turn, half=0)
            rough, fine = compared(takes, noisy, FIRST), compared(takes, noisy, plain)
            order = np.argsort(distances(rough))
            right = [take for take in order if words[take] == word]
            wrong = [take for take in order if words[take] != word][:4]
            for group, chosen in enumerate((right, wrong)):
                for take in chosen:
                    steps = path(rough.said, rough.takes[take], rough.room)
                    said = fine.said[[t for t, _ in steps]]
                    gap = said - fine.takes[take][[j for _, j in steps]]
                    scatter[group] += gap.T @ gap
                    counts[group] += len(gap)
    return scatter[0] / counts[0], scatter[1] / counts[1]


def metric_of(same: Frames, other: Frames, ridge: float = 1e-2) -> Frames:
    """The projection; rows are cepstra, columns dimensions, the telling ones first."""
    size = len(same)
    values, vectors = np.linalg.eigh(same + ridge * np.trace(same) / size * np.eye(size))
    white = vectors / np.sqrt(values)
    ratios, turned = np.linalg.eigh(white.T @ other @ white)
    order = np.argsort(-ratios)[: spectrum.DIMENSIONS]
    weight = np.sqrt(np.maximum(1 - 1 / ratios[order], 0))
    return np.asarray(white @ turned[:, order] * weight)


def main() -> None:
    """Learn it and write it where the package ships it."""
    metric = metric_of(*scatters())
    np.save(TARGET, metric.astype("<f4"))
    sys.stdout.write(f"{TARGET}: {metric.shape}, from {len(speakers()[0])} people\n")


if __name__ == "__main__":
    main()
