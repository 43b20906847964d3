"""Two recognisers joined."""

from __future__ import annotations

from pathlib import Path

from assistant.hearing.acceptance import shipped_bars
from assistant.hearing.engines import Recognized
from assistant.hearing.engines.opinion import MOST_MARGIN
from assistant.hearing.engines.pair import NAME, Heard, candidates, joined, own_words
from assistant.language.intent import Cost
from assistant.trial.phrases import of_list

_GRAMMAR = of_list("step complete\nsay again", "test", "en").unrelated()
_BARS = shipped_bars()[NAME]


def _meaning(text: str) -> object:
    intent = _GRAMMAR.match(text) if text else None
    return intent.name if intent else None


def _heard(*texts: tuple[str, float], choice: str = "") -> Heard:
    return Heard(texts, (texts, texts), choice)


def _joined(heard: Heard) -> Recognized:
    return joined(_meaning, heard, _BARS.weights, str)


def test_what_both_hear_is_surer_than_what_one_hears() -> None:
    """Agreement raises the confidence over either alone."""
    both = _joined(_heard(("say again", -9.0), choice="say again"))
    one = _joined(_heard(("say again", -9.0)))
    other = _joined(_heard(choice="say again"))
    assert both.text == one.text == "say again"
    assert both.confidence > one.confidence > other.confidence
    assert both.details["same"] == 1.0


def test_the_lead_over_everything_else_counts() -> None:
    """A phrase that other words come near is less sure than one without a rival."""
    clear = _joined(_heard(("say again", -9.0), ("say", -20.0)))
    near = _joined(_heard(("say again", -9.0), ("say", -10.0)))
    assert clear.confidence > near.confidence
    assert near.details["margin"] == 1.0


def test_a_contradiction_confirms_nothing() -> None:
    """When each hears another phrase, what comes out is under the bar of a confirmation."""
    rivals = (("say again", -9.0), ("step complete", -10.0))
    found = _joined(_heard(*rivals, choice="step complete"))
    assert found.confidence < _BARS.bars[Cost.CONFIRMATION].confidence


def test_what_is_no_phrase_comes_out_as_nothing() -> None:
    """Words joined of two phrases, or unknown speech, mean nothing."""
    assert _joined(_heard(("say complete", -5.0))) == Recognized("", 0.0)
    assert _joined(_heard(("[unk]", -5.0))) == Recognized("", 0.0)


def test_a_phrase_that_only_the_second_chose_has_the_least_margin() -> None:
    """Who must choose a phrase chooses one for any sound; the other does not even list it."""
    found = candidates(_meaning, _heard(("[unk]", -5.0), choice="say again"))
    ((_, evidence),) = found.values()
    assert evidence["margin"] == -MOST_MARGIN
    assert evidence["same"] == 1.0


def test_a_phrase_behind_other_words_has_a_margin_below_nothing() -> None:
    """The likeliest admitted phrase counts, by how far it is behind what fits better."""
    found = candidates(_meaning, _heard(("say a complete", -5.0), ("say again", -8.0)))
    ((text, evidence),) = found.values()
    assert (text, evidence["margin"]) == ("say again", -3.0)


def test_the_words_of_a_shop_s_model_have_their_pronunciations(tmp_path: Path) -> None:
    """A word may be said in two ways; a folder without such words has none."""
    assert own_words(tmp_path) == {}
    (tmp_path / "shop.dict").write_text("zackwoo Z AE K W UW\nzackwoo(2) Z AA K W UW\n", "utf-8")
    assert own_words(tmp_path) == {"zackwoo": ("Z AE K W UW", "Z AA K W UW")}
