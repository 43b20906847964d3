"""Which phrases suffer from words that an engine doesn't know."""

from __future__ import annotations

from collections.abc import Iterable


def phrases_with(unknown: frozenset[str], phrases: Iterable[str]) -> dict[str, tuple[str, ...]]:
    """The phrases that hold unknown words, each with those words; then words of no phrase."""
    found = {
        phrase: tuple(word for word in phrase.split() if word in unknown) for phrase in phrases
    }
    listed = {phrase: words for phrase, words in found.items() if words}
    named = {word for words in listed.values() for word in words}
    return listed | {word: (word,) for word in sorted(unknown - named)}
