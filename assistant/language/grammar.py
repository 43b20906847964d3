"""What may be said now: one grammar that matches words and compiles to every engine's form."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from assistant.errors import BadInput
from assistant.language import notation
from assistant.language.automaton import Automaton, States
from assistant.language.book import RULE_SLOTS, Phrasebook, Slot, parts
from assistant.language.expression import normalize, words_of
from assistant.language.intent import Cost, Intent
from assistant.language.overlap import Collision, collisions
from assistant.language.pattern import (
    Filled,
    Fillers,
    Pattern,
    patterns_of,
    rule_slots,
    table_slot,
)

__all__ = ["Collision", "Grammar", "build_grammar"]


@dataclass(frozen=True)
class Grammar:
    """The phrases that a state of the job admits.

    Attributes:
        language: of the phrasebook, for example "en".
        admitted: names of the intents that may be meant, in the phrasebook's order.
        patterns: their phrases.
        costs: cost of each admitted intent.
        pronunciations: those of the phrasebook for words that occur here.
        sounds_alike: groups of words that sound the same.
    """

    language: str
    admitted: tuple[str, ...]
    patterns: tuple[Pattern, ...]
    costs: Mapping[str, Cost]
    pronunciations: Mapping[str, tuple[str, ...]]
    sounds_alike: tuple[tuple[str, ...], ...] = ()

    def match(self, text: str) -> Intent | None:
        """The one thing that exactly these words mean; None when nothing or not one thing."""
        found = self.matches(text)
        return found[0] if len(found) == 1 else None

    def matches(self, text: str) -> tuple[Intent, ...]:
        """Every different thing that exactly these words can mean."""
        words = normalize(text)
        found = {(i.name, i.slots): i for p in self.patterns for i in p.intents(words)}
        return tuple(found.values())

    def complete_only(self, text: str) -> bool:
        """Whether the words are a whole phrase and no admitted phrase goes on from them."""
        words = normalize(text)
        states = self._machine.after(self._machine.start(), words)
        return bool(self._machine.accepted(states)) and not self._machine.next_words(states)

    def can_begin(self, text: str) -> bool:
        """Whether some admitted phrase begins with these words (or is these words)."""
        return bool(self._machine.after(self._machine.start(), normalize(text)))

    def words(self) -> frozenset[str]:
        """Every word that an engine must know."""
        return frozenset(word for p in self.patterns for word in words_of(p.expression))

    def words_by_phrase(self) -> dict[str, frozenset[str]]:
        """The words of each phrase as the phrasebook writes it, to name what can't be heard."""
        return {p.text: frozenset(words_of(p.expression)) for p in self.patterns}

    def cost_of(self, intent: str) -> Cost:
        """How dear it is to mishear this intent.

        Raises:
            KeyError: it isn't admitted here.
        """
        return self.costs[intent]

    def collisions(self) -> tuple[Collision, ...]:
        """Pairs of phrases where one begins or ends another that means something else."""
        return collisions(self.patterns, self._machine)

    def jsgf(self) -> str:
        """Java Speech Grammar Format 1.0, public rule "command": a strict grammar."""
        return notation.jsgf(self.patterns, self.language)

    def srgs(self) -> str:
        """W3C Speech Recognition Grammar Specification 1.0, XML form, root rule "command"."""
        return notation.srgs(self.patterns, self.language)

    def vosk_phrases(self) -> tuple[str, ...]:
        """A list for Vosk: whole phrases, and enough examples of those with open slots.

        Of words that sound the same only one is in it: a recognizer that may choose the spelling
        chooses at random. `respelled` gives the right one back.
        """
        return self._listed

    def respelled(self, text: str) -> str:
        """The admitted phrase that sounds exactly like this; the text itself when none does."""
        words = normalize(text)
        ways: list[tuple[tuple[str, ...], States]] = [((), self._machine.start())]
        for word in words:
            ways = [
                ((*said, other), after)
                for said, states in ways
                for other in self._spellings.get(word, (word,))
                if (after := self._machine.step(states, other))
            ]
        for said, states in ways:
            if self._machine.accepted(states):
                return " ".join(said)
        return text

    @cached_property
    def _listed(self) -> tuple[str, ...]:
        """Made once: an engine asks for it before every utterance."""
        listed = notation.phrase_list(self.patterns)
        return tuple(dict.fromkeys(self._one_spelling(text) for text in listed))

    def _one_spelling(self, text: str) -> str:
        return " ".join(self._spellings.get(word, (word,))[0] for word in text.split())

    @cached_property
    def _spellings(self) -> dict[str, tuple[str, ...]]:
        """For each word that sounds like another one here, all of them, always in one order."""
        words = self.words()
        groups = (tuple(w for w in group if w in words) for group in self.sounds_alike)
        return {word: group for group in groups if len(group) > 1 for word in group}

    @cached_property
    def _machine(self) -> Automaton:
        return Automaton.of(pattern.expression for pattern in self.patterns)


def build_grammar(
    book: Phrasebook,
    admitted: Iterable[str],
    fillers: Fillers | None = None,
    *,
    fractions: bool = True,
) -> Grammar:
    """The grammar of these intents.

    Args:
        book: the phrasebook.
        admitted: names of intents.
        fillers: ways to fill slots from the state of the job, {slot: {canonical: ways}}; for
            a slot that the phrasebook has a table for, they stand instead of it.
        fractions: whether a number may be a fraction here.

    Raises:
        BadInput: an unknown intent, or a slot that nothing fills.
    """
    wanted = set(admitted)
    if unknown := sorted(wanted - book.intents.keys()):
        raise BadInput(f"the phrasebook has no intent {', '.join(unknown)}")
    order = tuple(name for name in book.intents if name in wanted)
    filled = _fill(book, order, fillers or {}, fractions=fractions)
    patterns = patterns_of(book, order, filled)
    words = {word for p in patterns for word in words_of(p.expression)}
    return Grammar(
        language=book.language,
        admitted=order,
        patterns=patterns,
        costs={name: book.intents[name].cost for name in order},
        pronunciations={w: p for w, p in book.pronunciations.items() if w in words},
        sounds_alike=book.sounds_alike,
    )


def _fill(
    book: Phrasebook, order: Iterable[str], fillers: Fillers, *, fractions: bool
) -> dict[str, Filled]:
    """What stands in each slot that these intents use."""
    rules = rule_slots(book.numbers, fractions=fractions) if book.numbers is not None else {}
    filled: dict[str, Filled] = {}
    for intent in order:
        for text in book.intents[intent].phrases:
            for part in parts(text):
                if isinstance(part, Slot) and part.name not in filled:
                    filled[part.name] = _one(book, part.name, fillers, rules, f"{intent}: {text}")
    return filled


def _one(
    book: Phrasebook,
    slot: str,
    fillers: Fillers,
    rules: Mapping[str, Filled],
    where: str,
) -> Filled:
    if slot in RULE_SLOTS:
        if slot not in rules:
            raise BadInput(f"{where}: <{slot}> needs the language's number words (load_numbers)")
        return rules[slot]
    table = fillers.get(slot, book.slots.get(slot, {}))
    if not table or not all(table.values()):
        raise BadInput(f"{where}: nothing is given to fill <{slot}>")
    for canonical, ways in table.items():
        for way in ways:
            if not normalize(way) or any(sign.isdigit() for sign in way):
                raise BadInput(
                    f'{where}: "{way}" for {canonical} in <{slot}> is not spelled as it is spoken'
                )
    return table_slot(slot, table)
