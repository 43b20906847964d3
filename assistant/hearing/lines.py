"""What the ear needs to know of a grammar: the part of `language.grammar.Grammar` it uses."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Protocol

from assistant.language.intent import Cost, Intent


class Grammar(Protocol):
    """The phrases that the job admits now, compiled for each engine."""

    @property
    def language(self) -> str:
        """Language tag of the phrases, for example "en"."""

    @property
    def pronunciations(self) -> Mapping[str, tuple[str, ...]]:
        """How to say words that dictionaries lack, in ARPABET for English."""

    def match(self, text: str) -> Intent | None:
        """The intent of exactly this phrase, or None."""

    def words(self) -> frozenset[str]:
        """Every word of every phrase."""

    def words_by_phrase(self) -> Mapping[str, frozenset[str]]:
        """The words of each phrase, to name what can't be heard."""

    def jsgf(self) -> str:
        """The grammar as JSGF, public rule "command"."""

    def vosk_phrases(self) -> tuple[str, ...]:
        """The phrases for a run-time phrase list."""

    def respelled(self, text: str) -> str:
        """The admitted phrase that sounds exactly like this; the text itself when none does."""

    def cost_of(self, name: str) -> Cost:
        """How dear a mishearing of this intent is."""

    def complete_only(self, text: str) -> bool:
        """Whether the text is a complete phrase that no other admitted phrase extends."""
