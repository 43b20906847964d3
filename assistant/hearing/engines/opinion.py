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

MOST_WORDS: Final = 6
"""More words say nothing new either."""


def first_meant(texts: Texts, meaning: Meaning) -> tuple[str, object]:
    """The likeliest text that means something, and what; "" and None when none does."""
    known = ((text, meaning(text)) for text, _ in texts)
    return next((each for each in known if each[1] is not None), ("", None))


def margin_of(texts: Texts, meaning: Meaning, means: object, *, meant: bool = False) -> float:
    """How far the likeliest text with this meaning leads all texts without it.

    Args:
        texts: of one hearing.
        meaning: what a text means.
        means: the meaning in question.
        meant: whether only texts that mean something else count, not those that mean nothing.

    Returns:
        Difference of log likelihoods, at most `MOST_MARGIN` either way: below 0 when something
        else fits better; the least when no text has the meaning.
    """
    known = [(score, meaning(text)) for text, score in texts]
    with_it = [score for score, each in known if each == means]
    others = [score for score, each in known if each != means and not (meant and each is None)]
    if not with_it:
        return -MOST_MARGIN
    if not others:
        return MOST_MARGIN
    return max(-MOST_MARGIN, min(MOST_MARGIN, max(with_it) - max(others)))


def evidence_of(
    texts: Texts, others: Sequence[Texts], meaning: Meaning, said: str
) -> dict[str, float]:
    """What the lists of one recognizer say for the meaning of a text.

    Args:
        texts: of the hearing that counts most.
        others: of further hearings of the same sound.
        meaning: what a text means.
        said: the text in question.

    Returns:
        margin: lead over all other texts, mean of all hearings, see `margin_of`.
        lead: the same over texts that mean something else, of the first hearing; 0 for a text of
            one word.
        lone: that of a text of one word, which says less: many words sound like it that mean
            nothing here. 0 for other texts.
        words: how many words the text has, at most `MOST_WORDS`.
        single: 1 for a text of one word.
    """
    means, count = meaning(said), len(said.split())
    margins = [margin_of(each, meaning, means) for each in (texts, *others)]
    lead = margin_of(texts, meaning, means, meant=True)
    return {
        "margin": sum(margins) / len(margins),
        "lead": lead if count > 1 else 0.0,
        "lone": lead if count == 1 else 0.0,
        "words": float(min(count, MOST_WORDS)),
        "single": float(count == 1),
    }
