"""Figures with their uncertainty: proportions, percentiles."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

Z95: Final = 1.959964
"""97.5 % quantile of the normal distribution: 95 % lies between minus and plus it."""


def wilson95(successes: int, trials: int) -> tuple[float, float]:
    """95 % score interval of a proportion.

    E. B. Wilson, "Probable inference, the law of succession, and statistical inference", JASA
    22:209-212, 1927. Without trials nothing is known: 0 to 1.

    Raises:
        ValueError: more successes than trials, or fewer than none.
    """
    if not 0 <= successes <= trials:
        raise ValueError(f"{successes} of {trials} is no proportion")
    if trials == 0:
        return 0.0, 1.0
    share, square = successes / trials, Z95**2
    middle = share + square / (2 * trials)
    half = Z95 * math.sqrt(share * (1 - share) / trials + square / (4 * trials**2))
    low, high = ((middle + sign * half) / (1 + square / trials) for sign in (-1, 1))
    # At the ends the formula gives 0 and 1 exactly, but for rounding.
    return 0.0 if successes == 0 else low, 1.0 if successes == trials else high


def percentile(values: Sequence[float], share: float) -> float | None:
    """The value below which this share lies, linear between neighbors; None of no values.

    Definition 7 of R. J. Hyndman and Y. Fan, "Sample quantiles in statistical packages", The
    American Statistician 50(4), 1996: what NumPy and R take by default.
    """
    if not values:
        return None
    ordered = sorted(values)
    place = share * (len(ordered) - 1)
    below = math.floor(place)
    above = min(below + 1, len(ordered) - 1)
    return ordered[below] + (place - below) * (ordered[above] - ordered[below])
