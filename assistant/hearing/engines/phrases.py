"""The phrases as an engine takes them, and those with words that it doesn't know."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from typing import Final

from assistant.hearing.lines import Grammar

UNKNOWN: Final = "[unk]"
"""Vosk's word for other speech."""


def vosk_list(phrases: Sequence[str], *, rejects: bool) -> str:
    """The phrases as Vosk takes them, with its word for other speech where the model has it."""
    return json.dumps([*phrases, UNKNOWN] if rejects else list(phrases), ensure_ascii=False)


def unheard_phrases(
    grammar: Grammar, unknown_words: Callable[[Iterable[str]], frozenset[str]]
) -> dict[str, tuple[str, ...]]:
    """The phrases that could never be heard, each with the words that the engine lacks."""
    unknown = unknown_words(grammar.words())
    if not unknown:
        return {}
    lacking = {
        phrase: tuple(sorted(words & unknown))
        for phrase, words in grammar.words_by_phrase().items()
    }
    return {phrase: words for phrase, words in lacking.items() if words}
