"""An engine beside a person's own takes: agreement makes it surer, a contradiction unsure.

The takes count for whole fixed phrases that the person has enrolled and that may be said now. They
never decide anything that holds a number: readings and safety read-backs are the engine's alone.

No job uses this yet. On test speakers and PocketSphinx (tests/hearing/bench_enrollment.py, every
third person) 48 of 48 clean words were right with takes and 23 without, but of 36 unrelated
utterances 4 became commands with takes and none without. It must not be joined to an ear before
that is mended, by a bar on `fit` or weights fitted with more unrelated speech.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from assistant.hearing.acceptance import Weights
from assistant.hearing.engines import Engine, Recognized
from assistant.hearing.enrollment.evidence import ENGINES_OWN, FARTHEST, Nearness, Phrase, nearness
from assistant.hearing.enrollment.weights import shipped_weights
from assistant.hearing.lines import Grammar
from assistant.hearing.noise import from_pcm

_SURE: Final = 6.0
"""Most log odds that an engine's confidence counts."""


class EnrolledEngine:
    """Any engine, with a person's takes beside it.

    Args:
        inner: the engine; its bars of acceptance hold for the joined confidence too.
        phrases: what the person at work has enrolled.
        weights: of the joined evidence; those shipped for the engine if left out.
    """

    def __init__(
        self, inner: Engine, phrases: Sequence[Phrase], weights: Weights | None = None
    ) -> None:
        self._inner = inner
        self._phrases = tuple(phrases)
        self._weights = weights or shipped_weights(inner.name)
        self._grammar: Grammar | None = None
        self._admitted: tuple[Phrase, ...] = ()
        self._sound = bytearray()
        self.name = inner.name

    @property
    def model(self) -> str:
        """The inner engine's, and that takes stand beside it."""
        return f"{self._inner.model} with an enrolled voice" if self._phrases else self._inner.model

    def now_for(self, phrases: Sequence[Phrase]) -> None:
        """Another person is at work; counts from the next `use` on."""
        self._phrases = tuple(phrases)

    def unknown_words(self, words: Iterable[str]) -> frozenset[str]:
        """As the engine."""
        return self._inner.unknown_words(words)

    def use(self, grammar: Grammar) -> None:
        """Listen for this grammar from the next utterance on; see `Engine.use`."""
        self._inner.use(grammar)
        self._grammar = grammar
        self._admitted = tuple(p for p in self._phrases if grammar.match(p.text) is not None)

    def start(self) -> None:
        """An utterance begins."""
        self._sound.clear()
        self._inner.start()

    def feed(self, pcm: bytes) -> None:
        """Take more of the utterance."""
        self._sound += pcm
        self._inner.feed(pcm)

    def partial(self) -> str:
        """The engine's words so far."""
        return self._inner.partial()

    def glance(self) -> Recognized | None:
        """What it would be if it ended now."""
        found = self._inner.glance()
        return None if found is None else self._joined(found)

    def finish(self) -> Recognized:
        """The utterance is over."""
        return self._joined(self._inner.finish())

    def _joined(self, found: Recognized) -> Recognized:
        if not self._admitted or self._grammar is None:
            return found
        near = nearness(self._admitted, from_pcm(bytes(self._sound)))
        return joined(self._grammar, found, near, self._weights)


def joined(
    grammar: Grammar, found: Recognized, near: Sequence[Nearness], weights: Weights
) -> Recognized:
    """The engine's result weighed with the takes.

    Args:
        grammar: what may be said now.
        found: by the engine.
        near: how near the utterance is to each admitted enrolled phrase, the nearest first.
        weights: of `evidence_of`.

    Returns:
        The likelier of the engine's text and the nearest phrase. Where the engine's text has no
        takes, it stays as it is, unless a phrase fits so well that it must be doubted.
    """
    if not near or _of_engine_alone(grammar, found.text):
        return found
    said = grammar.match(found.text) if found.text else None
    candidates = {}
    for each in near:
        meant = grammar.match(each.text)
        if meant is None or grammar.cost_of(meant.name) in ENGINES_OWN:
            continue
        same = said is not None and (said.name, said.slots) == (meant.name, meant.slots)
        if same or each is near[0]:
            evidence = evidence_of(found.confidence if same else None, each)
            candidates[found.text if same else each.text] = evidence
    likely = {text: weights.confidence(evidence) for text, evidence in candidates.items()}
    best = max(likely, key=likely.__getitem__, default=found.text)
    if found.text and found.text not in likely:  # the engine's phrase has no takes
        if likely.get(best, 0.0) < 0.5:
            return found
        return replace(found, confidence=min(found.confidence, 1 - likely[best]))
    if best not in likely:
        return found
    details = {**found.details, **candidates[best]}
    return Recognized(best, likely[best], details)


def evidence_of(confidence: float | None, near: Nearness) -> dict[str, float]:
    """The evidence for one phrase.

    Args:
        confidence: of the engine in it; None when the engine heard something else or nothing.
        near: what the takes say.
    """
    odds = -_SURE
    if confidence is not None:
        sure = min(max(confidence, 1e-6), 1 - 1e-6)
        odds = min(max(math.log(sure / (1 - sure)), -_SURE), _SURE)
    return {
        "chosen": float(confidence is not None),
        "odds": odds if confidence is not None else 0.0,
        "lead": near.lead,
        "fit": min(near.fit, FARTHEST),
    }


def _of_engine_alone(grammar: Grammar, text: str) -> bool:
    meant = grammar.match(text) if text else None
    return meant is not None and grammar.cost_of(meant.name) in ENGINES_OWN
