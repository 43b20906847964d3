"""Two recognisers joined."""

from __future__ import annotations

from assistant.hearing.acceptance import shipped_bars
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.pair import NAME, joined
from assistant.trial.phrases import of_list

_GRAMMAR = of_list("step complete\nsay again", "test", "en").unrelated()
_WEIGHTS = shipped_bars()[NAME].weights


def _vosk(text: str, word: float = 1.0, agreement: float = 1.0) -> Recognized:
    return Recognized(text, word * agreement, {"agreement": agreement, "least_word": word})


def _sphinx(text: str, sure: float = 0.95, agreement: float = 1.0) -> Recognized:
    return Recognized(text, sure, {"agreement": agreement, "worst": -2.0})


def test_what_both_hear_is_surer_than_what_one_hears() -> None:
    """Agreement raises the confidence over either alone, and every decoding agrees."""
    both = joined(_GRAMMAR, _vosk("say again"), _sphinx("say again"), _WEIGHTS)
    one = joined(_GRAMMAR, _vosk("say again"), Recognized("", 0.0), _WEIGHTS)
    assert both.text == one.text == "say again"
    assert both.confidence > one.confidence
    assert both.details["agreement"] == 1.0


def test_a_contradiction_confirms_nothing() -> None:
    """When each is sure of another phrase, what comes out is under the bar of a confirmation."""
    found = joined(_GRAMMAR, _vosk("say again"), _sphinx("step complete"), _WEIGHTS)
    bars = shipped_bars()[NAME].bars
    bar = next(bar for cost, bar in bars.items() if cost.value == "confirmation")
    assert found.confidence < bar.confidence or found.details["agreement"] <= bar.agreement


def test_what_is_no_phrase_comes_out_as_nothing() -> None:
    """Words joined of two phrases, or unknown speech, mean nothing."""
    assert joined(_GRAMMAR, _vosk("say complete"), _sphinx(""), _WEIGHTS).text == ""
    assert joined(_GRAMMAR, _vosk("[unk]"), _sphinx(""), _WEIGHTS) == Recognized("", 0.0)
