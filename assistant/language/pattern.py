"""A phrase of the phrasebook with its slots filled in, ready to be matched."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from assistant.language.book import Phrasebook, Slot, parts
from assistant.language.expression import (
    Expression,
    Repeat,
    Run,
    Word,
    choice,
    ends,
    normalize,
    phrase,
)
from assistant.language.intent import Intent
from assistant.language.number_words import NumberWords, Words
from assistant.language.numbers import parse_characters, parse_digits, parse_number
from assistant.trade.quantity import number_text

Fillers = Mapping[str, Mapping[str, tuple[str, ...]]]
Meaning = Callable[[Words], tuple[str, ...]]


@dataclass(frozen=True)
class Filled:
    """A slot with what may be said in it.

    Attributes:
        expression: what may be said.
        meaning: canonical values of words that were said; more than one is ambiguous.
        ways: words of each canonical value, where the slot is a table; else empty.
    """

    slot: str
    expression: Expression
    meaning: Meaning
    ways: Mapping[str, tuple[Words, ...]]


@dataclass(frozen=True)
class Pattern:
    """One phrase of one intent."""

    intent: str
    text: str
    parts: tuple[Word | Filled, ...]

    @property
    def expression(self) -> Expression:
        """The whole phrase as one expression."""
        return Run(tuple(p if isinstance(p, Word) else p.expression for p in self.parts))

    def intents(self, words: Sequence[str]) -> Iterator[Intent]:
        """Everything that these words can mean as this phrase."""
        said = " ".join(words)
        for slots in self._slots(tuple(words), 0, 0):
            yield Intent(self.intent, slots, said)

    def _slots(self, words: Words, part: int, at: int) -> Iterator[tuple[tuple[str, str], ...]]:
        if part == len(self.parts):
            if at == len(words):
                yield ()
            return
        here = self.parts[part]
        if isinstance(here, Word):
            if at < len(words) and words[at] == here.text:
                yield from self._slots(words, part + 1, at + 1)
            return
        for end in sorted(ends(here.expression, words, at)):
            for value in here.meaning(words[at:end]):
                for rest in self._slots(words, part + 1, end):
                    yield ((here.slot, value), *rest)


def table_slot(slot: str, table: Mapping[str, Iterable[str]]) -> Filled:
    """A slot that one of these fills: {canonical: ways}."""
    ways = {canonical: tuple(normalize(way) for way in said) for canonical, said in table.items()}
    meanings: dict[Words, tuple[str, ...]] = {}
    for canonical, said in ways.items():
        for words in dict.fromkeys(said):
            meanings[words] = (*meanings.get(words, ()), canonical)
    expression = choice([phrase(" ".join(words)) for words in meanings])
    return Filled(slot, expression, lambda words: meanings.get(words, ()), ways)


def rule_slots(numbers: NumberWords, *, fractions: bool = True) -> dict[str, Filled]:
    """The slots that are open: numbers, counts, challenge numbers and part numbers.

    Args:
        numbers: of the language.
        fractions: whether a number may be a fraction.
    """

    def number(words: Words) -> tuple[str, ...]:
        value = parse_number(words, numbers)
        text = "" if value is None else number_text(value)
        return (text,) if text and (fractions or "/" not in text) else ()

    def cardinal(words: Words) -> tuple[str, ...]:
        value = numbers.cardinals.get(words)
        return () if value is None else (str(value),)

    def figures(words: Words) -> tuple[str, ...]:
        value = parse_digits(words, numbers)
        return () if value is None else (value,)

    def characters(words: Words) -> tuple[str, ...]:
        value = parse_characters(words, numbers)
        return () if value is None else (value,)

    digit = numbers.digit
    return {
        "number": Filled("number", numbers.number if fractions else numbers.decimal, number, {}),
        "cardinal": Filled("cardinal", numbers.below_hundred, cardinal, {}),
        "challenge": Filled("challenge", Repeat(digit, 2, 2), figures, {}),
        "digits": Filled("digits", Repeat(digit, 1, None), figures, {}),
        "characters": Filled("characters", numbers.characters, characters, {}),
    }


def opaque(slot: str) -> Filled:
    """A slot that only the state of a job fills, while there is no job: it equals itself."""
    return Filled(slot, Word(f"<{slot}>"), lambda words: words, {})


def patterns_of(
    book: Phrasebook, intents: Iterable[str], slots: Mapping[str, Filled]
) -> tuple[Pattern, ...]:
    """The phrases of these intents.

    Raises:
        KeyError: a slot that `slots` lacks.
    """
    return tuple(
        Pattern(
            intent,
            text,
            tuple(
                slots[part.name] if isinstance(part, Slot) else Word(part) for part in parts(text)
            ),
        )
        for intent in intents
        for text in book.intents[intent].phrases
    )
