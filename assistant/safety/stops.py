"""The fixed texts of the safety stops: packaged data by language that no checklist can change."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from typing import Annotated

import yaml
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from assistant.checklist.tags import SignalWord
from assistant.errors import BadFile, Finding
from assistant.safety.hazards import Stop

Line = Annotated[str, Field(min_length=1, max_length=300)]


class StopText(BaseModel):
    """What one stop says.

    Attributes:
        title: its name, for the screen.
        signal: ANSI Z535.4 signal word, spoken first.
        hazard: what can hurt, said first.
        demands: what must be so, one short sentence each.
        read_back: the words that must be said back before the challenge number.
    """

    model_config = ConfigDict(frozen=True, extra="forbid")

    title: Line
    signal: SignalWord
    hazard: Line
    demands: tuple[Line, ...] = Field(min_length=1)
    read_back: Line


class StopTexts(BaseModel):
    """All stops in one language, with the hash that the record carries."""

    model_config = ConfigDict(frozen=True, extra="forbid")

    language: str
    stops: Mapping[Stop, StopText]
    second_person: Line = Field(description="read-back words of the second person")
    freeze: Line = Field(description="read-back words that end a freeze")
    sha256: str = ""

    def read_backs(self) -> dict[str, tuple[str, ...]]:
        """Every read-back by its key, as a grammar's fillers take it: what must be hearable."""
        words = {stop.value: (text.read_back,) for stop, text in self.stops.items()}
        return {**words, "second_person": (self.second_person,), "freeze": (self.freeze,)}


def load_stops(text: str, file: str) -> StopTexts:
    """Read the packaged texts.

    Raises:
        BadFile: a stop is missing or a text is malformed; packaging is broken.
    """
    try:
        texts = StopTexts.model_validate(yaml.safe_load(text))
    except (yaml.YAMLError, ValidationError) as error:
        raise BadFile((Finding("error", "bad-stops", file, 0, str(error)),)) from error
    missing = [stop.value for stop in Stop if stop not in texts.stops]
    if missing:
        message = f"safety stops without a text: {', '.join(missing)}"
        raise BadFile((Finding("error", "bad-stops", file, 0, message),))
    digest = hashlib.sha256(text.encode("utf-8")).hexdigest()
    return texts.model_copy(update={"sha256": digest})
