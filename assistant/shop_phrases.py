"""The shop's own phrases, beside the shop's file: `phrases.yaml`."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Final

from assistant import sounding
from assistant.errors import BadFile, Finding
from assistant.language.book import Phrasebook
from assistant.language.located import read_yaml
from assistant.language.phrasebook import extend
from assistant.small_files import is_there, read_small

PHRASES_FILE: Final = "phrases.yaml"
_LARGEST: Final = 256 * 1024


def with_shop_phrases(book: Phrasebook, home: Path) -> Phrasebook:
    """The phrasebook with the shop's additions; as it is without any in its language.

    Raises:
        BadFile: the file is there but not right; says what is wrong, with lines.
    """
    path = home / PHRASES_FILE
    if not is_there(path):
        return book
    text = read_small(path, _LARGEST, "a file of phrases")
    value = read_yaml(text, str(path)).value
    if isinstance(value, dict) and value.get("language", book.language) != book.language:
        return book
    return extend(book, text, str(path))


def phrase_findings(book: Phrasebook, home: Path, roster: Mapping[str, str]) -> Iterator[Finding]:
    """What is wrong with the shop's phrases: mistakes, and what sounds too much like another."""
    try:
        added = with_shop_phrases(book, home)
    except BadFile as problem:
        yield from problem.findings
        return
    if added is not book:
        yield from sounding.addition_findings(book, added, roster, str(home / PHRASES_FILE))
