"""What a phrasebook is, once it has been read."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Final

from assistant.language.expression import normalize
from assistant.language.intent import Cost
from assistant.language.number_words import NumberWords

RULE_SLOTS: Final = frozenset(("number", "cardinal", "challenge", "digits", "characters"))
SPOKEN: Final = re.compile(r"[^\W\d_]+(?:['’-][^\W\d_]+)*")

_PART = re.compile(r"<([a-z][a-z_]*)>|([^<>\s]+)|([<>])")


@dataclass(frozen=True, slots=True)
class Slot:
    """A place in a phrase that a table, a rule or the job's state fills."""

    name: str


@dataclass(frozen=True, slots=True)
class IntentEntry:
    """One intent of the phrasebook.

    Attributes:
        cost: how dear a mishearing is.
        phrases: ways to say it as written, the taught one first; <slot> where a slot stands.
        help: what it does, in a few words.
    """

    cost: Cost
    phrases: tuple[str, ...]
    help: str


@dataclass(frozen=True, slots=True)
class Phrasebook:
    """Everything that can be said in one language.

    Attributes:
        slots: slot: canonical value: ways to say it, the taught one first.
        state_slots: slots that only the state of a job can fill.
        pronunciations: word: its ARPABET pronunciations, for words that a pronouncing
            dictionary may lack.
        sounds_alike: groups of words that sound the same, the one that matters most first.
        numbers: number words of the language; None when nothing here is a number.
        files: where it was read from, the main file first.
    """

    language: str
    intents: Mapping[str, IntentEntry]
    slots: Mapping[str, Mapping[str, tuple[str, ...]]]
    state_slots: frozenset[str]
    pronunciations: Mapping[str, tuple[str, ...]]
    numbers: NumberWords | None
    files: tuple[str, ...]
    sounds_alike: tuple[tuple[str, ...], ...] = ()

    def sayable(self, filled: Collection[str]) -> frozenset[str]:
        """Intents all of whose phrases can be said when of the state's slots these are filled."""
        empty = self.state_slots - frozenset(filled)
        return frozenset(
            name
            for name, entry in self.intents.items()
            if not any(Slot(slot) in parts(phrase) for phrase in entry.phrases for slot in empty)
        )

    def taught(self, intent: str) -> str:
        """The phrase that is taught for this intent.

        Raises:
            KeyError: no such intent.
        """
        return self.intents[intent].phrases[0]


def parts(text: str) -> tuple[str | Slot, ...]:
    """A phrase's normalized words and its slots, in order.

    Raises:
        ValueError: a stray bracket, a sign or figure, or no words at all.
    """
    found: list[str | Slot] = []
    for slot, word, stray in _PART.findall(text):
        if slot:
            found.append(Slot(slot))
        elif stray or not SPOKEN.fullmatch(word):
            msg = f'"{text}": "{stray or word}" is neither a word nor a <slot>; spell it as spoken'
            raise ValueError(msg)
        else:
            found.extend(normalize(word))
    if not found:
        msg = f'"{text}" has no words'
        raise ValueError(msg)
    return tuple(found)
