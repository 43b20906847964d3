"""What the takes count beside each engine; fitted by tests/hearing/fit_enrollment.py."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib.resources import files

import yaml
from pydantic import BaseModel, ConfigDict

from assistant.hearing.acceptance import Weights


class Fitted(BaseModel):
    """Weights and where they come from.

    Attributes:
        least: confidence of the engine below which takes have no say.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    origin: str
    least: float
    weights: Weights


@cache
def _shipped() -> Mapping[str, Fitted]:
    path = files("assistant.hearing").joinpath("enrollment/data/weights.yaml")
    given = yaml.safe_load(path.read_text("utf-8"))
    return {name: Fitted.model_validate(entry) for name, entry in given.items()}


def has_weights(engine: str) -> bool:
    """Whether takes may stand beside this engine."""
    return engine in _shipped()


def shipped_weights(engine: str) -> Fitted:
    """The weights beside this engine.

    Raises:
        KeyError: none were fitted for it.
    """
    return _shipped()[engine]
