"""A spoken reading, from the words that are admitted to the words that are read back, and again."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.job.effects import line
from assistant.language.confusion import phrase_distance
from assistant.language.expression import normalize
from assistant.language.grammar import build_grammar
from assistant.language.intent import Intent
from assistant.language.numbers import read_back
from assistant.language.pattern import table_slot
from assistant.opening import words_of
from assistant.packaged import numbers_of, phrasebook
from assistant.sounding import dictionary_for
from assistant.trade.quantity import Quantity, parse_number, unit_named
from tests.language.spoken import phrases_of

BOOK = phrasebook("en")
WORDS = words_of("en")
NUMBERS = numbers_of("en")
GRAMMAR = build_grammar(BOOK, ["reading"])
UNITS = BOOK.slots["unit"]
UNIT = table_slot("unit", UNITS).expression


def _meant(words: tuple[str, ...]) -> Intent:
    """The one thing that a spoken reading means."""
    (intent,) = GRAMMAR.matches(" ".join(words))
    return intent


def _spoken_back(intent: Intent) -> tuple[str, ...]:
    """What the assistant says of it, without the reading's name and the question."""
    number = parse_number(intent.get("number") or "")
    value = Quantity(number, unit_named(intent.get("unit") or ""))
    said = line(
        "reading.check",
        name="gap",
        digits=value.number_text(),
        unit=UNITS[value.unit.symbol][0],
    )
    asked = WORDS.spoken(said)
    return normalize(asked.removeprefix("gap: ").removesuffix(" Is that right?"))


@given(phrases_of(NUMBERS.number), phrases_of(UNIT))
@settings(deadline=None, max_examples=300)
def test_what_is_read_back_means_what_was_said(
    number: tuple[str, ...], unit: tuple[str, ...]
) -> None:
    """Every admitted reading means one value with its unit, and its read-back means the same."""
    meant = _meant(("reading", *number, *unit))
    again = _meant(("reading", *_spoken_back(meant)))
    assert (again.get("number"), again.get("unit")) == (meant.get("number"), meant.get("unit"))


@given(st.integers(0, 9_999), st.integers(0, 3), st.sampled_from(sorted(UNITS)))
@settings(deadline=None)
def test_every_value_of_a_gauge_can_be_said(figures: int, places: int, unit: str) -> None:
    """Up to four figures and three decimals, in any unit, can be said digit by digit."""
    text = f"{figures / 10**places:.{places}f}"
    said = read_back(parse_number(text), NUMBERS)
    meant = _meant(("reading", *said.split(), *UNITS[unit][0].split()))
    assert parse_number(meant.get("number") or "") == parse_number(text)
    assert meant.get("unit") == unit


def test_read_backs_of_teens_and_tens_are_farther_apart() -> None:
    """Thirteen and thirty are a phone apart, their read-backs farther, so the doubt is heard."""
    known = dictionary_for(GRAMMAR)
    for ten in range(3, 10):
        teen, tens = 10 + ten, 10 * ten
        cardinals = [NUMBERS.cardinal_words[value] for value in (teen, tens)]
        backs = [read_back(parse_number(str(value)), NUMBERS).split() for value in (teen, tens)]
        heard = phrase_distance(cardinals[0], cardinals[1], known)
        told = phrase_distance(backs[0], backs[1], known)
        assert heard <= 1.0 + 1e-9
        assert told >= 2 * heard
