"""The notice to show in the shop: what is recorded, what for, how long, how to have it removed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from importlib.resources import files

import yaml
from pydantic import BaseModel, ConfigDict

from assistant.errors import BadInput
from assistant.report.page import environment


@dataclass(frozen=True, slots=True)
class Keeping:
    """What a shop keeps, as its file says.

    Attributes:
        clips: whether replies are kept as sound.
        days: days after a job is sealed when sound is removed, None for never.
        store: whether records go to a store of the shop as well.
        contact: whom to ask; empty for the notice's own words.
    """

    clips: bool = True
    days: int | None = None
    store: bool = False
    contact: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """A heading and what stands under it."""

    head: str
    text: str


@dataclass(frozen=True, slots=True)
class Notice:
    """A notice, ready to show."""

    title: str
    parts: tuple[Part, ...]
    foot: str


class _Part(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    head: str
    text: str = ""
    clips: str = ""
    no_clips: str = ""
    days: str = ""
    days_store: str = ""
    here: str = ""
    store: str = ""

    def told(self, keeping: Keeping) -> str:
        """The text that is true of what is kept."""
        if self.here:
            return self.store if keeping.store else self.here
        if not keeping.clips and self.no_clips:
            return self.no_clips
        if keeping.days is not None and self.days:
            return self.days_store if keeping.store and self.days_store else self.days
        return self.text or self.clips


class _Texts(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")

    title: str
    parts: tuple[_Part, ...]
    contact: str
    foot: str


def notice_of(keeping: Keeping, day: str, language: str = "en") -> Notice:
    """The notice that is true of what is kept.

    Args:
        keeping: from the shop's file.
        day: date of printing, as the shop writes it.
        language: of the notice.

    Raises:
        BadInput: the package has no notice in this language.
    """
    file = files("assistant") / "report" / "data" / language / "notice.yaml"
    named = language.isascii() and language.isalpha() and len(language) <= 3
    if not named or not file.is_file():
        raise BadInput(f"no notice in the language {language[:40]!r} comes with this program")
    texts = _Texts.model_validate(yaml.safe_load(file.read_text(encoding="utf-8")))
    facts = {"days": keeping.days, "contact": keeping.contact or texts.contact, "day": day}
    parts = tuple(Part(p.head, p.told(keeping).format_map(facts)) for p in texts.parts)
    return Notice(texts.title, parts, texts.foot.format_map(facts))


def notice_lines(notice: Notice, shop: str = "") -> Iterator[str]:
    """The notice as lines to read."""
    if shop:
        yield shop
    yield notice.title.upper()
    for part in notice.parts:
        yield ""
        yield part.head
        yield f"  {part.text}"
    yield ""
    yield notice.foot


def notice_page(notice: Notice, shop: str = "", language: str = "en") -> str:
    """The notice as a page to print, with everything in it escaped."""
    return environment(language).get_template("notice.html").render(notice=notice, shop=shop)
