"""What may reach a voice, and in what pieces.

Texts arrive here already worded for the ear. A digit, a sign or an abbreviation's mark that gets
this far would be read by the voice's own guess ("3m" as "three minutes"), so it is refused.
"""

from __future__ import annotations

import re
import unicodedata

MARKS = frozenset(".,;:?!'\"-()\u2018\u2019\u201c\u201d\u2013\u2014\u2026\u00bf\u00a1\u3001\u3002")
"""Punctuation that only shapes how a sentence is said (also in Spanish, Chinese, Japanese)."""

LONGEST = 400
"""Letters in one piece: at about 19,000 the Linux voice crashes, 3,000 were fine; far below both,
so that one piece is also rendered in a moment."""

_SENTENCE_END = re.compile(r"(?<=[.?!\u2026])[\"'\u2019\u201d)]*\s+|(?<=\u3002)")
_CLAUSE_END = re.compile(r"(?<=[,;:\u2013\u2014\u3001])\s*")


def check_words(words: str) -> str:
    """Return the words with single spaces between them.

    Args:
        words: what is to be said, spelled out.

    Raises:
        ValueError: there is nothing to say, or it holds digits or symbols; names them.
    """
    wrong = sorted({mark for mark in words if not _speakable(mark)})
    if wrong:
        named = ", ".join(f"{mark!r} ({unicodedata.name(mark, 'unnamed')})" for mark in wrong)
        raise ValueError(
            f"not worded for the ear, {named} would be left to the voice's guess: {words!r}"
        )
    if not any(mark.isalpha() for mark in words):
        raise ValueError(f"nothing to say in {words!r}")
    return " ".join(words.split())


def _speakable(mark: str) -> bool:
    """Whether a character is a letter, a letter's accent, a space or plain punctuation."""
    return mark.isalpha() or mark.isspace() or mark in MARKS or unicodedata.category(mark)[0] == "M"


def pieces(words: str) -> list[str]:
    """Return the sentences; one that is too long is cut at its clauses, then between words.

    Args:
        words: as `check_words` returns them.
    """
    found: list[str] = []
    for sentence in _SENTENCE_END.split(words):
        if sentence and any(mark.isalpha() for mark in sentence):
            found.extend(_cut(sentence, _CLAUSE_END) if len(sentence) > LONGEST else [sentence])
    return found


def _cut(text: str, where: re.Pattern[str]) -> list[str]:
    """Return parts of at most `LONGEST` characters, filled up as far as the cuts allow."""
    parts = [""]
    for bit in where.split(text):
        if len(bit) > LONGEST:
            parts.extend(_cut_words(bit))
        elif parts[-1] and len(parts[-1]) + 1 + len(bit) > LONGEST:
            parts.append(bit)
        else:
            parts[-1] = f"{parts[-1]} {bit}".strip()
    return [part for part in parts if any(mark.isalpha() for mark in part)]


def _cut_words(text: str) -> list[str]:
    """Return parts cut between words, or within a word that is longer than any word is."""
    parts = [""]
    for word in text.split():
        for start in range(0, len(word), LONGEST):
            bit = word[start : start + LONGEST]
            if parts[-1] and len(parts[-1]) + 1 + len(bit) > LONGEST:
                parts.append(bit)
            else:
                parts[-1] = f"{parts[-1]} {bit}".strip()
    return parts
