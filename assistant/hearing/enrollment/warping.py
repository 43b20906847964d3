"""Dynamic time warping of many takes to one utterance, with the room on either side.

The path's slope is limited as by Sakoe and Chiba (IEEE Trans. ASSP 26:43, 1978): an utterance
frame may stay at most once on a take's frame, and at most one take frame in a row is left out. So
what was said may last between half and twice as long as the take. Before and after, frames cost
their distance from the room. All takes are warped at once, a frame of the utterance at a time.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assistant.hearing.enrollment.spectrum import Compared, Frames

IMPOSSIBLE = 1e30
"""Cost of what the slope forbids."""


def distances(sound: Compared) -> NDArray[np.float64]:
    """How far each take is from what was said: mean squared distance a frame; inf when too long."""
    if not sound.takes:
        return np.zeros(0)
    everything = np.concatenate(sound.takes)
    local = np.maximum(
        (sound.said**2).sum(axis=1)[:, None]
        + (everything**2).sum(axis=1)
        - 2 * sound.said @ everything.T,
        0,
    )
    outside = ((sound.said - sound.room) ** 2).sum(axis=1)
    total = warped(local, [len(take) for take in sound.takes], outside)
    return np.where(total < IMPOSSIBLE, total / len(sound.said), np.inf)


def warped(local: Frames, lengths: list[int], outside: Frames) -> NDArray[np.float64]:
    """Least cost of each take's path through the whole utterance.

    Args:
        local: cost of each utterance frame at each frame of all takes, one after the other.
        lengths: frames of each take.
        outside: cost of each utterance frame before or after the phrase.

    Returns:
        A cost for each take; at least `IMPOSSIBLE` where no path is allowed.
    """
    count, longest = len(lengths), max(lengths)
    starts = np.concatenate([[0], np.cumsum(lengths)])
    index = np.full((count, longest), local.shape[1])
    for take, length in enumerate(lengths):
        index[take, :length] = np.arange(starts[take], starts[take + 1])
    padded = np.concatenate([local, np.full((len(local), 1), IMPOSSIBLE)], axis=1)
    moved = np.full((count, longest + 2), IMPOSSIBLE)  # two columns before the first frame
    stayed = moved.copy()
    last, rows = np.array(lengths) + 1, np.arange(count)
    before, after = 0.0, np.full(count, IMPOSSIBLE)
    for costs, quiet in zip(padded, outside, strict=True):
        here = costs[index]
        best = np.minimum(moved, stayed)
        after = np.minimum(after, np.minimum(best[rows, last], best[rows, last - 1])) + quiet
        stayed[:, 2:] = moved[:, 2:] + here
        one, two = best[:, 1:-1].copy(), best[:, :-2].copy()
        one[:, 0] = before
        if longest > 1:
            two[:, 1] = before
        moved[:, 2:] = np.minimum(one, two) + here
        before += quiet
    best = np.minimum(moved, stayed)
    return np.asarray(np.minimum(after, np.minimum(best[rows, last], best[rows, last - 1])))
