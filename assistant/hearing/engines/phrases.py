"""Which phrases suffer from words that an engine doesn't know."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from assistant.hearing.lines import Grammar


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
