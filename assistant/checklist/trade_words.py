"""The words by which a checklist's texts name heads, tools, fluids and materials, by language."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from assistant.language.located import read_yaml, validate
from assistant.trade.drivers import Drive

_Names = Annotated[dict[str, str], Field(min_length=1)]
_Words = Annotated[list[str], Field(min_length=1)]


class _File(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    language: str
    heads: _Names
    drivers: Annotated[dict[str, Annotated[Drive, Field(strict=False)]], Field(min_length=1)]
    fluids: _Names
    soft: _Names
    no_source: _Words
    generic_source: _Words
    battery: _Words
    at_rest: _Words
    charging: _Words


@dataclass(frozen=True, slots=True)
class TradeWords:
    """Words of one language.

    Attributes:
        heads: head as an author names it, to its name in the table of heads.
        drivers: tool to the kind of drive that it turns.
        fluids: other names of brake fluids to their grade.
        soft: what tells of a thread that bears less than steel, to the material.
        no_source: what stands for a source that nobody knows.
        generic_source: sources that are tables for all bolts.
        battery: what tells that a voltage is the battery's.
        at_rest, charging: states in which it is read.
    """

    heads: Mapping[str, str]
    drivers: Mapping[str, Drive]
    fluids: Mapping[str, str]
    soft: Mapping[str, str]
    no_source: tuple[str, ...]
    generic_source: tuple[str, ...]
    battery: tuple[str, ...]
    at_rest: tuple[str, ...]
    charging: tuple[str, ...]


def load_trade_words(text: str, file: str) -> TradeWords:
    """Read the words of a language.

    Raises:
        BadFile: something is missing, unknown or of the wrong kind; each finding has its line.
    """
    raw = validate(_File, read_yaml(text, file))
    return TradeWords(
        heads=raw.heads,
        drivers=raw.drivers,
        fluids=raw.fluids,
        soft=raw.soft,
        no_source=tuple(raw.no_source),
        generic_source=tuple(raw.generic_source),
        battery=tuple(raw.battery),
        at_rest=tuple(raw.at_rest),
        charging=tuple(raw.charging),
    )


def first_named(text: str, words: Iterable[str]) -> str | None:
    """The first of these words or phrases that a text holds whole, else None."""
    return next(
        (w for w in words if re.search(rf"(?<!\w){re.escape(w)}(?!\w)", text, re.IGNORECASE)), None
    )
