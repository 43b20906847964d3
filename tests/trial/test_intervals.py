"""Intervals and percentiles against published values and another library."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trial.intervals import percentile, wilson95


@pytest.mark.parametrize(
    ("successes", "trials", "low", "high"),
    [
        (81, 263, 0.2553, 0.3662),
        (15, 148, 0.0624, 0.1605),
        (0, 20, 0.0000, 0.1611),
        (1, 29, 0.0061, 0.1718),
    ],
)
def test_the_interval_is_the_published_one(
    successes: int, trials: int, low: float, high: float
) -> None:
    """R. G. Newcombe, Statistics in Medicine 17:857-872, 1998, table I, method 3 (from memory)."""
    assert wilson95(successes, trials) == pytest.approx((low, high), abs=5e-5)


@given(st.integers(1, 10_000).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_the_interval_solves_the_score_equation(pair: tuple[int, int]) -> None:
    """At each end the observed share lies 1.96 standard errors of that end away, its definition."""
    successes, trials = pair
    share = successes / trials
    for end in wilson95(successes, trials):
        error = (end * (1 - end) / trials) ** 0.5
        if error > 1e-9:
            assert abs(share - end) == pytest.approx(1.959964 * error, rel=1e-6)
        else:
            assert share == pytest.approx(end, abs=1e-9)


def test_no_trials_tell_nothing() -> None:
    """Without a trial anything is possible; more successes than trials are an error."""
    assert wilson95(0, 0) == (0.0, 1.0)
    with pytest.raises(ValueError, match="no proportion"):
        wilson95(2, 1)


@given(
    st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=50),
    st.floats(0, 1),
)
def test_a_percentile_is_that_of_numpy(values: list[float], share: float) -> None:
    """The default definition of NumPy, an independent implementation."""
    assert percentile(values, share) == pytest.approx(np.quantile(values, share), abs=1e-6)


def test_no_values_have_no_percentile() -> None:
    """Nothing is made up where nothing was measured."""
    assert percentile([], 0.5) is None
