"""What a list of likely texts says."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from assistant.hearing.engines.opinion import MOST_MARGIN, evidence_of, first_meant, margin_of


def _meaning(text: str) -> object:
    """Words of one letter mean themselves, in either case; longer ones mean nothing."""
    return text.lower() if len(text) == 1 else None


_TEXTS = st.lists(
    st.tuples(st.sampled_from(["a", "A", "b", "c", "ab"]), st.floats(-50, 0)), max_size=6
).map(lambda texts: sorted(texts, key=lambda each: -each[1]))


def test_margin_is_the_lead_over_all_that_means_something_else() -> None:
    """Another spelling of the same is no rival; words that mean nothing are one."""
    texts = [("a", -3.0), ("A", -3.5), ("ab", -5.0), ("b", -9.0)]
    assert margin_of(texts, _meaning, "a") == 2.0
    assert margin_of(texts, _meaning, "b") == -6.0
    assert margin_of(texts, _meaning, "c") == -MOST_MARGIN
    assert margin_of([("a", -3.0)], _meaning, "a") == MOST_MARGIN


@given(_TEXTS)
def test_only_the_first_meaning_can_lead(texts: list[tuple[str, float]]) -> None:
    """At most one meaning has a margin above 0, and it is the likeliest one's."""
    leading = {m for m in "abc" if margin_of(texts, _meaning, m) > 0}
    assert len(leading) <= 1
    text, means = first_meant(texts, _meaning)
    assert leading <= {means}
    assert means == (_meaning(text) if text else None)


def test_lead_is_over_what_means_something_else_only() -> None:
    """Words that mean nothing are no rival to the lead, but they are to the margin."""
    texts = [("ab", -2.0), ("a", -3.0), ("b", -9.0)]
    assert margin_of(texts, _meaning, "a") == -1.0
    assert margin_of(texts, _meaning, "a", meant=True) == 6.0
    assert margin_of(texts[:2], _meaning, "a", meant=True) == MOST_MARGIN


@given(_TEXTS, _TEXTS)
def test_further_hearings_only_move_the_margin(
    texts: list[tuple[str, float]], other: list[tuple[str, float]]
) -> None:
    """The margin is the mean over all hearings; what else is told is of the first one."""
    once = evidence_of(texts, (), _meaning, "a")
    twice = evidence_of(texts, (other,), _meaning, "a")
    assert once["margin"] == margin_of(texts, _meaning, "a")
    assert twice["margin"] == (once["margin"] + margin_of(other, _meaning, "a")) / 2
    assert twice | {"margin": 0.0} == once | {"margin": 0.0}
    assert once["words"] == once["single"] == 1.0
