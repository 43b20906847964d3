"""Phrases that begin or end other phrases."""

from __future__ import annotations

import pytest

from assistant.language.grammar import Collision, build_grammar
from assistant.language.numbers import NumberWords
from assistant.language.phrasebook import Phrasebook, load_phrasebook
from tests.language.spoken import FILLERS


def collisions(numbers: NumberWords, *phrases: str) -> list[tuple[str, str, str]]:
    """Place, short and long of a book with these phrases, one intent each."""
    intents = "\n".join(
        f'  i{n}: {{cost: control, phrases: ["{phrase}"], help: "h"}}'
        for n, phrase in enumerate(phrases)
    )
    book = load_phrasebook(f"language: en\nintents:\n{intents}\n", "f", numbers)
    return [(c.place, c.short, c.long) for c in build_grammar(book, book.intents).collisions()]


def test_a_phrase_that_another_one_continues(numbers: NumberWords) -> None:
    """The fluid grades that sound like one another's beginning are found."""
    assert collisions(numbers, "dot five", "dot five point one") == [
        ("beginning", "dot five", "dot five point one")
    ]


def test_a_phrase_that_another_one_ends_with(numbers: NumberWords) -> None:
    """A refusal whose tail is a command is found."""
    assert collisions(numbers, "carry on", "do not carry on") == [
        ("end", "carry on", "do not carry on")
    ]


def test_a_phrase_in_the_middle_is_no_collision(numbers: NumberWords) -> None:
    """Only beginnings and ends are caught by themselves."""
    assert collisions(numbers, "go on", "please go on now") == []


def test_words_inside_a_word_are_no_collision(numbers: NumberWords) -> None:
    """Words count, not letters."""
    assert collisions(numbers, "step", "steps", "instep") == []


def test_the_same_meaning_is_no_collision(book: Phrasebook) -> None:
    """The end of "tell me why" asks the same as the whole."""
    assert build_grammar(book, ["why"]).collisions() == ()


def test_open_slots_collide_with_themselves(numbers: NumberWords) -> None:
    """Twenty is the beginning of twenty five, and of another count."""
    (one,) = collisions(numbers, "count <cardinal>")
    assert one[0] == "beginning"
    assert one[2].startswith(one[1] + " ")


def test_a_value_closed_by_its_unit_does_not_collide(book: Phrasebook) -> None:
    """A reading ends at its unit, so it can be decided at once."""
    fillers = {"unit": {"V": ("volts", "volt")}}
    assert build_grammar(book, ["reading", "freeze", "what_torque"], fillers).collisions() == ()


def test_what_collides_in_the_whole_english_phrasebook(book: Phrasebook) -> None:
    """Every pair is known; a new one must be looked at before it ships."""
    found = {
        (c.place, c.short_intent, c.long_intent)
        for c in build_grammar(book, book.intents, FILLERS).collisions()
    }
    assert found == {
        ("beginning", "say_again", "say_again_slowly"),
        ("beginning", "negative", "read_back"),  # never admitted together
        ("beginning", "name_count", "name_count"),
        ("beginning", "part_number", "part_number"),
        ("beginning", "reading", "reading"),  # inch, inch pounds
        ("end", "part_number", "part_number"),
        ("end", "part_number", "name_count"),  # never admitted together
        ("end", "part_number", "read_back"),  # never admitted together
    }


def test_each_collision_is_true(book: Phrasebook) -> None:
    """Both examples are admitted, one is in the other, and they mean different things."""
    grammar = build_grammar(book, book.intents, FILLERS)
    for one in grammar.collisions():
        short, long = grammar.match(one.short), grammar.match(one.long)
        assert short is not None
        assert long is not None
        assert (short.name, long.name) == (one.short_intent, one.long_intent)
        assert (short.name, short.slots) != (long.name, long.slots)
        inside = one.long.startswith if one.place == "beginning" else one.long.endswith
        assert inside(one.short)
        assert not grammar.complete_only(one.short) or one.place == "end"


@pytest.mark.parametrize("place", ["beginning", "end"])
def test_a_collision_says_itself(place: str) -> None:
    """The message names both phrases and both intents."""
    one = Collision(place, "a", "a b", "first", "second")  # type: ignore[arg-type] # two literals
    assert str(one) == f'"a" (first) is the {place} of "a b" (second)'
