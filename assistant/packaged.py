"""Texts that come with the package: the one place that reads them from disk."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cache
from importlib.resources import files
from typing import Final

import yaml
from pydantic import BaseModel, ConfigDict

from assistant.checklist.trade_words import TradeWords, load_trade_words
from assistant.errors import BadInput
from assistant.language.book import Phrasebook
from assistant.language.number_words import NumberWords, load_numbers
from assistant.language.phrasebook import load_phrasebook
from assistant.language.prompts import Prompts, load_prompts
from assistant.language.wording_table import Wording, load_wording
from assistant.safety.event_words import EventWords, load_event_words
from assistant.safety.hazard_words import HazardWords, load_hazard_words
from assistant.safety.stops import StopTexts, load_stops
from assistant.trade.tables import NAMES, Tables, load_tables

_LANGUAGE: Final = re.compile(r"[a-z]{2,3}")
"""A language's name is a folder's: nothing longer, and no path."""


def _text(room: str, language: str, name: str) -> tuple[str, str]:
    """A packaged file's text and its name for messages.

    Raises:
        BadInput: the package has no such language.
    """
    file = files("assistant") / room / "data" / language / name
    if _LANGUAGE.fullmatch(language) is None or not file.is_file():
        raise BadInput(f'no {name} for the language "{language[:40]}" comes with this program')
    return file.read_text(encoding="utf-8"), f"assistant/{room}/data/{language}/{name}"


@cache
def numbers_of(language: str) -> NumberWords:
    """The number words of a language."""
    return load_numbers(*_text("language", language, "numbers.yaml"))


@cache
def phrasebook(language: str) -> Phrasebook:
    """The phrasebook of a language, with its number words."""
    return load_phrasebook(*_text("language", language, "phrasebook.yaml"), numbers_of(language))


@cache
def prompts(language: str) -> Prompts:
    """Everything the assistant says."""
    return load_prompts(*_text("language", language, "prompts.yaml"))


@cache
def wording(language: str) -> Wording:
    """How numbers, units and abbreviations are spoken."""
    return load_wording(*_text("language", language, "wording.yaml"), numbers_of(language))


@cache
def stop_texts(language: str) -> StopTexts:
    """The fixed texts of the safety stops."""
    return load_stops(*_text("safety", language, "stops.yaml"))


@cache
def hazard_words(language: str) -> HazardWords:
    """The words by which untagged hazard work is found."""
    return load_hazard_words(*_text("safety", language, "hazard_words.yaml"))


@cache
def trade_tables() -> Tables:
    """The trade's tables: threads, grades, heads, fluids, battery; the same in every language."""
    folder = files("assistant") / "trade" / "data"
    return load_tables({n: (folder / f"{n}.csv").read_text(encoding="utf-8") for n in NAMES})


@cache
def event_words(language: str) -> EventWords:
    """The words by which untagged events are found."""
    return load_event_words(*_text("safety", language, "event_words.yaml"), hazard_words(language))


@cache
def trade_words(language: str) -> TradeWords:
    """The words by which a checklist names heads, tools, fluids and materials."""
    return load_trade_words(*_text("checklist", language, "trade_words.yaml"))


class _KeysFile(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    language: str
    keys: dict[str, str]


class _Makeshift(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)

    language: str
    words: tuple[str, ...]


@cache
def makeshift(language: str) -> Callable[[str], bool]:
    """Tells whether a typed text says that something holds only for a while."""
    text, _ = _text("language", language, "makeshift.yaml")
    words = _Makeshift.model_validate(yaml.safe_load(text)).words
    found = re.compile(rf"\b({'|'.join(map(re.escape, words))})\b", re.IGNORECASE)
    return lambda said: found.search(said) is not None


@cache
def keys(language: str) -> Mapping[str, str]:
    """Single keys and the phrases they stand for."""
    text, _ = _text("language", language, "keys.yaml")
    return _KeysFile.model_validate(yaml.safe_load(text)).keys


def new_checklist(language: str) -> str:
    """The starting point of a checklist; <id> and <title> stand for its own."""
    return _text("language", language, "new-checklist.yaml")[0]
