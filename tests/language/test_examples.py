"""Example phrases that hold every pair of neighboring words."""

from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from assistant.language.automaton import Automaton
from assistant.language.examples import examples
from assistant.language.expression import Choice, Expression, Repeat, Run, Word

_WORDS = st.sampled_from(["a", "b", "c", "d"]).map(Word)


def _larger(parts: st.SearchStrategy[Expression]) -> st.SearchStrategy[Expression]:
    some = st.lists(parts, min_size=1, max_size=3).map(tuple)
    repeats = st.builds(Repeat, parts, st.integers(0, 2), st.sampled_from([2, 3, None]))
    return st.one_of(some.map(Run), some.map(Choice), repeats)


_EXPRESSIONS = st.recursive(_WORDS, _larger, max_leaves=6)


@given(_EXPRESSIONS)
def test_examples_are_admitted_and_hold_every_pair(expression: Expression) -> None:
    """Each example is a whole phrase; no pair that the machine admits is missing from them."""
    machine = Automaton.of([expression])
    found = examples(machine)
    for text in found:
        assert machine.accepted(machine.after(machine.start(), text.split()))
    held = {pair for text in found for pair in pairwise(["", *text.split(), ""])}
    for states, words in machine.reached():
        last = words[-1] if words else ""
        assert {(last, word) for word in machine.next_words(states)} <= held


@given(_EXPRESSIONS)
def test_examples_are_the_same_each_time(expression: Expression) -> None:
    """No chance is in them: two machines of one expression give one list."""
    first, second = Automaton.of([expression]), Automaton.of([expression])
    assert examples(first) == examples(second)


def test_no_unit_is_much_commoner_than_another() -> None:
    """A number's examples don't all end in the same word."""
    digits = Choice((Word("one"), Word("two"), Word("three"), Word("four")))
    units = Choice((Word("volts"), Word("amps")))
    found = examples(Automaton.of([Run((Repeat(digits, 1, None), units))]))
    volts = sum(text.endswith("volts") for text in found)
    assert 0.35 <= volts / len(found) <= 0.65
