"""Two recognisers that fail differently, side by side: PocketSphinx and a Vosk model.

Both hear the same sound. What both heard is nearly always right; where they differ, one of the
two texts may still be believed, but only on strong evidence of its own. The weights of that
evidence (`data/acceptance.yaml`, "pair") were fitted by `assistant.acoustics.fit_pair`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Final

from assistant.hearing.acceptance import Weights, shipped_bars
from assistant.hearing.engines import Engine, Recognized
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.engines.vosk_engine import VoskEngine
from assistant.hearing.lines import Grammar

NAME: Final = "pair"
_LOWEST: Final = -12.0
"""Stands for evidence that PocketSphinx can't give, in natural logarithms a frame."""

_AGREED: Final = 0.95
"""Least confidence in two or more words that both recognisers heard alike.

On the tuning clips both heard 185 phrases of several words alike and one of them was not what was
said. The logistic function alone gets doubtful over long utterances, which its clips had few of.
"""


class PairEngine:
    """PocketSphinx and a Vosk model on the same sound.

    Args:
        folder: of the Vosk model.

    Raises:
        EngineUnavailable: either can't be loaded.
    """

    name = NAME

    def __init__(self, folder: Path) -> None:
        ours, other = VoskEngine(folder), PocketSphinxEngine()
        self._ours: Engine = ours
        self._other: Engine = other
        self.model = f"{ours.model} beside {other.model}"
        self._weights = shipped_bars()[NAME].weights
        self._grammar: Grammar | None = None
        self._beside = ThreadPoolExecutor(1, thread_name_prefix="second recogniser")

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """Words that either lacks: a phrase has to be heard by both."""
        listed = tuple(words)
        return self._ours.unknown_words(listed) | self._other.unknown_words(listed)

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next utterance on.

        Raises:
            UnknownWords: a phrase holds a word that either doesn't know.
            EngineUnavailable: PocketSphinx refuses the grammar.
        """
        self._ours.use(grammar)
        self._other.use(grammar)
        self._grammar = grammar

    def start(self) -> None:
        """An utterance begins."""
        self._ours.start()
        self._other.start()

    def feed(self, pcm: bytes) -> None:
        """Both decode more of the utterance."""
        self._ours.feed(pcm)
        self._other.feed(pcm)

    def partial(self) -> str:
        """What the Vosk model has so far, or PocketSphinx where that has nothing yet."""
        return self._ours.partial() or self._other.partial()

    def finish(self) -> Recognized:
        """Both decode the whole again, at the same time; their evidence is weighed together."""
        waiting = self._beside.submit(self._ours.finish)
        other = self._other.finish()
        return joined(self._grammar, waiting.result(), other, self._weights)


def _meaning(grammar: Grammar | None, text: str) -> object:
    intent = grammar.match(text) if grammar and text else None
    return (intent.name, intent.slots) if intent else None


def joined(
    grammar: Grammar | None, ours: Recognized, other: Recognized, weights: Weights
) -> Recognized:
    """One result out of two.

    Args:
        grammar: what is admitted.
        ours: of the Vosk model.
        other: of PocketSphinx.
        weights: of the evidence that `evidence` gives.

    Returns:
        The text that both mean, else the likelier one; nothing when neither is a phrase.
    """
    mine, theirs = _meaning(grammar, ours.text), _meaning(grammar, other.text)
    best = Recognized("", 0.0)
    for text, means in ((ours.text, mine), (other.text, theirs)):
        if means is None:
            continue
        details = evidence(means, (mine, ours), (theirs, other))
        likely = weights.confidence(details)
        if details["both"] and len(text.split()) > 1:
            likely = max(likely, _AGREED)
        if likely > best.confidence:
            best = Recognized(text, likely, details)
    return best


def evidence(
    means: object, ours: tuple[object, Recognized], other: tuple[object, Recognized]
) -> Mapping[str, float]:
    """What speaks for a meaning.

    Returns:
        both: 1 when both heard it.
        word: least word confidence of the Vosk model, 0 when it heard something else.
        steady: how many of the Vosk model's decodings agree, likewise.
        against: the Vosk model's word confidence in another phrase.
        second: how sure PocketSphinx is of it, 0 when it heard something else.
        worst: PocketSphinx's score of the word that fits worst, `_LOWEST` likewise.
        agreement: share of the two recognisers' decodings that mean it; at least half when both
            heard it.
    """
    (mine, first), (theirs, second) = ours, other
    by_ours, by_other = mine == means, theirs == means
    word, steady = first.details.get("least_word", 0.0), first.details.get("agreement", 0.0)
    share = second.details.get("agreement", 0.0)
    mean = ((steady if by_ours else 0.0) + (share if by_other else 0.0)) / 2
    return {
        "both": float(by_ours and by_other),
        "word": word if by_ours else 0.0,
        "steady": steady if by_ours else 0.0,
        "against": word if mine is not None and not by_ours else 0.0,
        "second": second.confidence if by_other else 0.0,
        "worst": second.details.get("worst", _LOWEST) if by_other else _LOWEST,
        "agreement": max(mean, 0.5) if by_ours and by_other else mean,
    }
