"""Whether what an engine says may be acted on: stricter the dearer a mishearing is."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Annotated, Final, Literal

import yaml
from pydantic import BaseModel, ConfigDict, Field

from assistant.hearing.engines import TAKES, Recognized
from assistant.language.intent import Cost, Intent

Verdict = Literal["accepted", "unclear"]

_ORDER: Final = tuple(Cost)


class _Model(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Bar(_Model):
    """The least evidence for one cost class.

    Attributes:
        confidence: of the engine, 0 to 1.
        agreement: share of the decodings that mean the same, where an engine decodes repeatedly.
        snr_db: speech against the room.
    """

    confidence: Annotated[float, Field(ge=0, le=1)]
    agreement: Annotated[float, Field(ge=0, le=1)] = 0.0
    snr_db: float


class Weight(_Model):
    """What one piece of evidence counts: factor times its value, kept within low and high."""

    factor: float
    low: float
    high: float


class Weights(_Model):
    """A logistic function of the evidence: 1 / (1 + exp(-(bias + sum)))."""

    bias: float = 0.0
    weights: Mapping[str, Weight] = Field(default_factory=dict)

    def confidence(self, evidence: Mapping[str, float]) -> float:
        """How likely the words were said, 0 to 1; 0 when a piece of evidence is missing."""
        if not self.weights.keys() <= evidence.keys():
            return 0.0
        total = self.bias
        for name, weight in self.weights.items():
            total += weight.factor * min(max(evidence[name], weight.low), weight.high)
        return 1 / (1 + math.exp(-total))


class EngineBars(_Model):
    """One engine's weights and bars, and where its figures come from.

    Attributes:
        weights: of the evidence when an utterance is over.
        early: of the evidence when it seems to be.
        masked_db: speech less than this over the noise is not worth listening to.
        single_margin: a text of one word is believed only when it leads all other texts by this
            much, or the person's own takes speak for it: many words sound nearly like it.
    """

    origin: str
    weights: Weights = Weights()
    early: Weights = Weights()
    masked_db: float = 0.0
    single_margin: float = -math.inf
    bars: Mapping[Cost, Bar]


@dataclass(frozen=True, slots=True)
class Judgment:
    """The verdict and, when unclear, what was missing."""

    verdict: Verdict
    why: str = ""


@cache
def shipped_bars() -> Mapping[str, EngineBars]:
    """The bars that come with the package, by engine name."""
    text = files("assistant.hearing").joinpath("data/acceptance.yaml").read_text("utf-8")
    return {name: EngineBars.model_validate(given) for name, given in yaml.safe_load(text).items()}


def judge(
    bars: EngineBars,
    recognized: Recognized,
    intent: Intent | None,
    cost: Cost,
    snr_db: float | None,
) -> Judgment:
    """Weigh one utterance.

    Args:
        bars: of the engine that heard it.
        recognized: what it heard.
        intent: what its exact words mean here, None when they mean nothing.
        cost: the cost class of the intent.
        snr_db: speech against the room, None when it was not measured.
    """
    if intent is None:
        return Judgment("unclear", "no phrase")
    bar = bars.bars[cost]
    if recognized.confidence < bar.confidence:
        return Judgment("unclear", f"confidence {recognized.confidence:.2f} < {bar.confidence:.2f}")
    if _behind(recognized.details, bars.single_margin):
        return Judgment("unclear", "other words fit better")
    agreement = recognized.details.get("agreement", 1.0)
    if agreement < bar.agreement:
        return Judgment("unclear", f"agreement {agreement:.2f} < {bar.agreement:.2f}")
    if snr_db is not None and snr_db < bar.snr_db:
        return Judgment("unclear", f"{snr_db:.0f} dB over the room < {bar.snr_db:.0f} dB")
    return Judgment("accepted")


def _behind(evidence: Mapping[str, float], least: float) -> bool:
    if not evidence.get("single") or TAKES in evidence:
        return False
    return evidence.get("margin", math.inf) < least
