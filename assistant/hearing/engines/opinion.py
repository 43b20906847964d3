"""What a recogniser's list of likely texts says about what was meant."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

Texts = Sequence[tuple[str, float]]
"""Texts and their log likelihoods, likeliest first."""

Meaning = Callable[[str], object]
"""What a text means; None when nothing. Texts that mean the same give equal things."""

MOST_MARGIN: Final = 12.0
"""Natural logarithms; more says nothing new."""


def first_meant(texts: Texts, meaning: Meaning) -> tuple[str, object]:
    """The likeliest text that means something, and what; "" and None when none does."""
    known = ((text, meaning(text)) for text, _ in texts)
    return next((each for each in known if each[1] is not None), ("", None))


def margin_of(texts: Texts, meaning: Meaning, means: object) -> float:
    """How far the likeliest text with this meaning leads all texts without it.

    Returns:
        Difference of log likelihoods, at most `MOST_MARGIN` either way: below 0 when something
        else fits better, be it a phrase or not; the least when no text has the meaning.
    """
    with_it = [score for text, score in texts if meaning(text) == means]
    without = [score for text, score in texts if meaning(text) != means]
    if not with_it:
        return -MOST_MARGIN
    if not without:
        return MOST_MARGIN
    return max(-MOST_MARGIN, min(MOST_MARGIN, max(with_it) - max(without)))


def share_of(others: Sequence[Texts], meaning: Meaning, means: object) -> float:
    """Share of further lists whose likeliest meaning is this one; 0 of no lists."""
    if not others:
        return 0.0
    return sum(first_meant(texts, meaning)[1] == means for texts in others) / len(others)
