"""Acceptance: the dearer a mishearing, the more it takes."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.hearing.acceptance import (
    Bar,
    EngineBars,
    Weight,
    Weights,
    judge,
    shipped_bars,
)
from assistant.hearing.engines import Recognized
from assistant.language.intent import Cost, Intent

BARS = EngineBars(
    origin="made up",
    bars={cost: Bar(confidence=0.5 + 0.1 * at, snr_db=2.0 * at) for at, cost in enumerate(Cost)},
)
INTENT = Intent("step_done", (), "step complete")


@pytest.mark.parametrize("engine", ["pocketsphinx", "vosk"])
def test_shipped_bars_never_fall_with_cost(engine: str) -> None:
    """Every engine has a bar for every cost class, and a dearer class never has a lower one."""
    bars = shipped_bars()[engine]
    assert set(bars.bars) == set(Cost)
    assert bars.origin
    for cheap, dear in pairwise(Cost):
        assert bars.bars[dear].confidence >= bars.bars[cheap].confidence
        assert bars.bars[dear].agreement >= bars.bars[cheap].agreement
        assert bars.bars[dear].snr_db >= bars.bars[cheap].snr_db


def test_words_that_mean_nothing_are_unclear() -> None:
    """Full confidence in words that are no phrase accepts nothing."""
    judged = judge(BARS, Recognized("step", 1.0), None, Cost.QUESTION, 40.0)
    assert (judged.verdict, judged.why) == ("unclear", "no phrase")


def test_same_evidence_serves_a_question_but_no_confirmation() -> None:
    """A middling confidence is enough to answer a question and not to confirm a step."""
    middling = Recognized("what size", 0.6)
    assert judge(BARS, middling, INTENT, Cost.QUESTION, 30.0).verdict == "accepted"
    assert judge(BARS, middling, INTENT, Cost.CONFIRMATION, 30.0).verdict == "unclear"


def test_a_single_word_that_others_lead_is_unclear() -> None:
    """It takes the lead, or the person's own takes; a text of several words does not need it."""
    bars = BARS.model_copy(update={"single_margin": 0.0})
    for evidence, verdict in (
        ({"single": 1.0, "margin": -0.5}, "unclear"),
        ({"single": 1.0, "margin": 0.5}, "accepted"),
        ({"single": 1.0, "margin": -0.5, "takes": 1.0}, "accepted"),
        ({"single": 0.0, "margin": -0.5}, "accepted"),
        ({}, "accepted"),
    ):
        judged = judge(bars, Recognized("why", 1.0, evidence), INTENT, Cost.QUESTION, 30.0)
        assert judged.verdict == verdict
    assert judge(BARS, Recognized("why", 1.0, {"single": 1.0, "margin": -0.5}), INTENT,
                 Cost.QUESTION, 30.0).verdict == "accepted"  # fmt: skip


def test_speech_too_near_the_noise_is_unclear() -> None:
    """A confident result from speech that hardly stands above the room is asked again, with why."""
    judged = judge(BARS, Recognized("x", 1.0), INTENT, Cost.READ_BACK, 3.0)
    assert judged.verdict == "unclear"
    assert judged.why == "3 dB over the room < 8 dB"


def test_decodings_that_disagree_are_unclear() -> None:
    """High confidence does not serve where the repeated decodings differ too much."""
    bars = EngineBars(
        origin="made up",
        bars={cost: Bar(confidence=0.5, agreement=0.75, snr_db=0.0) for cost in Cost},
    )
    torn = Recognized("x", 0.9, {"agreement": 0.5})
    judged = judge(bars, torn, INTENT, Cost.VALUE, 30.0)
    assert (judged.verdict, judged.why) == ("unclear", "agreement 0.50 < 0.75")
    sure = Recognized("x", 0.9, {"agreement": 0.75})
    assert judge(bars, sure, INTENT, Cost.VALUE, 30.0).verdict == "accepted"


def test_weights_are_a_logistic_function() -> None:
    """Confidence is 1/(1+exp(-(bias + sum of factor times kept value))) (arithmetic)."""
    weights = Weights(bias=1.0, weights={"fit": Weight(factor=2.0, low=-1.0, high=0.5)})
    assert weights.confidence({"fit": 0.25}) == pytest.approx(1 / (1 + math.exp(-1.5)))
    assert weights.confidence({"fit": 9.0}) == pytest.approx(1 / (1 + math.exp(-2.0)))
    assert weights.confidence({"other": 9.0}) == 0.0


def test_unmeasured_noise_does_not_stop_a_command() -> None:
    """When the room was not measured the confidence alone decides."""
    assert judge(BARS, Recognized("x", 1.0), INTENT, Cost.READ_BACK, None).verdict == "accepted"


@given(
    st.floats(0, 1),
    st.floats(0, 1),
    st.floats(-10, 60),
    st.sampled_from(Cost),
    st.sampled_from(Cost),
)
def test_more_evidence_or_less_cost_never_loses(
    low: float, high: float, snr: float, one: Cost, other: Cost
) -> None:
    """What is accepted stays accepted with more confidence and for a cheaper intent."""
    low, high = sorted((low, high))
    cheap, dear = sorted((one, other), key=list(Cost).index)
    if judge(BARS, Recognized("x", low), INTENT, dear, snr).verdict == "accepted":
        assert judge(BARS, Recognized("x", high), INTENT, cheap, snr).verdict == "accepted"
