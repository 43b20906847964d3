"""Warping many takes at once, against the textbook's recursion one cell at a time."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.hearing.enrollment.spectrum import Frames
from assistant.hearing.enrollment.warping import IMPOSSIBLE, warped


def slow(local: Frames, outside: Frames) -> float:
    """Least cost over all paths of one take, by recursion over cells.

    The slope constraint of Sakoe and Chiba, IEEE Trans. ASSP 26:43 (1978), written down anew: at
    most one stay on a take's frame, at most one take frame left out, also at either end.
    """
    frames, length = local.shape

    @cache
    def ending(t: int, j: int, stayed: bool) -> float:
        here = float(local[t, j])
        if stayed:
            return ending(t - 1, j, False) + here if t else np.inf
        ways = [float(outside[:t].sum())] if j <= 1 else []
        if t:
            ways += [ending(t - 1, j - b, s) for b in (1, 2) if j >= b for s in (False, True)]
        return min(ways, default=np.inf) + here

    return min(
        ending(t, j, s) + float(outside[t + 1 :].sum())
        for t in range(frames)
        for j in range(max(0, length - 2), length)
        for s in (False, True)
    )


@settings(max_examples=60, deadline=None)
@given(
    st.integers(1, 9),
    st.lists(st.integers(2, 6), min_size=1, max_size=4),
    st.integers(0, 2**32 - 1),
)
def test_all_takes_at_once_cost_what_each_costs_alone(
    frames: int, lengths: list[int], seed: int
) -> None:
    """Every take's least cost is that of the slow recursion, or impossible in both."""
    chance = np.random.default_rng(seed)
    local = chance.uniform(0, 5, (frames, sum(lengths)))
    outside = chance.uniform(0, 5, frames)
    found = warped(local, lengths, outside)
    ends = np.cumsum(lengths)
    for cost, part in zip(found, np.split(local, ends[:-1], axis=1), strict=True):
        wanted = slow(part, outside)
        if np.isinf(wanted):
            assert cost >= IMPOSSIBLE
        else:
            assert cost == pytest.approx(wanted)


def test_a_take_is_no_distance_from_itself_between_quiet() -> None:
    """The same frames between frames of the room cost nothing."""
    local = np.full((8, 4), 9.0)
    local[np.arange(2, 6), np.arange(4)] = 0.0
    outside = np.array([0.0, 0.0, 7.0, 7.0, 7.0, 7.0, 0.0, 0.0])
    assert warped(local, [4], outside) == pytest.approx([0.0])
