"""An engine beside a person's own takes: agreement makes it surer, a contradiction unsure.

The takes have a say only in a phrase that the engine itself heard, that may be said now and that
the person has enrolled. Where it heard nothing, or is less sure than `Fitted.least`, they can't
make a command of it: what is unrelated speech the engine knows better. They never change what was
heard into another phrase, and never decide anything that holds a number: readings and safety
read-backs are the engine's alone.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from typing import Final

from assistant.hearing.engines import TAKES, Engine, Recognized
from assistant.hearing.enrollment.evidence import ENGINES_OWN, FARTHEST, Nearness, Phrase, nearness
from assistant.hearing.enrollment.weights import Fitted, shipped_weights
from assistant.hearing.lines import Grammar
from assistant.hearing.noise import from_pcm
from assistant.language.intent import Intent

_SURE: Final = 6.0
"""Most log odds that an engine's confidence counts."""


class EnrolledEngine:
    """Any engine, with a person's takes beside it.

    Args:
        inner: the engine; its bars of acceptance hold for the joined confidence too.
        phrases: what the person at work has enrolled.
        fitted: weights of the joined evidence; those shipped for the engine if left out.
    """

    def __init__(
        self, inner: Engine, phrases: Sequence[Phrase] = (), fitted: Fitted | None = None
    ) -> None:
        self._inner = inner
        self._phrases = tuple(phrases)
        self._fitted = fitted or shipped_weights(inner.name)
        self._grammar: Grammar | None = None
        self._admitted: tuple[Phrase, ...] = ()
        self._sound = bytearray()
        self.name = inner.name

    @property
    def model(self) -> str:
        """The inner engine's."""
        return self._inner.model

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
        """The engine's own: only what is over is weighed with the takes."""
        return self._inner.glance()

    def finish(self) -> Recognized:
        """The utterance is over."""
        found, grammar = self._inner.finish(), self._grammar
        if grammar is None or found.confidence < self._fitted.least:
            return found
        said = _said(grammar, found)
        if all(grammar.match(phrase.text) != said for phrase in self._admitted):
            return found
        near = nearness(self._admitted, from_pcm(bytes(self._sound)))
        return joined(grammar, found, near, self._fitted)


def joined(
    grammar: Grammar, found: Recognized, near: Sequence[Nearness], fitted: Fitted
) -> Recognized:
    """The engine's result, surer or less sure by what the takes say.

    Args:
        grammar: what may be said now.
        found: by the engine.
        near: how near the utterance is to each admitted enrolled phrase.
        fitted: weights of `evidence_of`.

    Returns:
        The same text. Surer where its takes are the nearest, less sure where another phrase's are;
        the engine's own where it has no takes or was less sure than `fitted.least`.
    """
    said = _said(grammar, found)
    own = next((each for each in near if grammar.match(each.text) == said), None)
    if said is None or own is None or found.confidence < fitted.least:
        return found
    evidence = evidence_of(found.confidence, own)
    together = fitted.weights.confidence(evidence)
    sure = (min if own.lead < 0 else max)(found.confidence, together)
    return Recognized(found.text, sure, {**found.details, **evidence, TAKES: 1.0})


def evidence_of(confidence: float, near: Nearness) -> dict[str, float]:
    """The evidence for the phrase that the engine heard.

    Args:
        confidence: of the engine in it.
        near: what the takes say of it.
    """
    sure = min(max(confidence, 1e-6), 1 - 1e-6)
    odds = min(max(math.log(sure / (1 - sure)), -_SURE), _SURE)
    return {"odds": odds, "lead": near.lead, "fit": min(near.fit, FARTHEST)}


def _said(grammar: Grammar, found: Recognized) -> Intent | None:
    """What the engine heard, where takes may have a say in it."""
    said = grammar.match(found.text) if found.text else None
    return None if said is None or grammar.cost_of(said.name) in ENGINES_OWN else said
