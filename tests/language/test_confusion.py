"""How alike phrases sound, against pairs that people are known to confuse."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.language.confusion import (
    _CONSONANTS,
    _VOWELS,
    TOO_ALIKE,
    alike,
    distance,
    phone_distance,
    phrase_distance,
    read_dictionary,
    with_own,
)
from assistant.language.number_words import Words

# Entries of the CMU Pronouncing Dictionary, with and without stress marks.
SMALL = """\
bolt B OW1 L T
dine D AY1 N
fifteen F IH F T IY N
fifty F IH F T IY
five F AY V
nine N AY N
thirteen TH ER T IY N
thirty TH ER T IY
complete K AH M P L IY T
incomplete IH N K AH M P L IY T
step S T EH P
the DH AH
the(2) DH IY
volt V OW L T
torque T AO R K
"""
WORDS = "bolt dine fifteen fifty five nine thirteen thirty complete incomplete step the volt torque"
DICTIONARY = read_dictionary(SMALL, WORDS.split())
PHONES = st.sampled_from(sorted([*_CONSONANTS, *_VOWELS]))
ROWS = st.lists(PHONES, max_size=8)


def test_every_way_to_say_a_word_is_read() -> None:
    """Stress marks are left out, second ways are kept, unwanted words are not."""
    assert DICTIONARY["bolt"] == (("B", "OW", "L", "T"),)
    assert DICTIONARY["the"] == (("DH", "AH"), ("DH", "IY"))
    assert read_dictionary(SMALL, ["bolt", "unheard"]).keys() == {"bolt"}


def test_own_pronunciations_fill_what_is_lacking() -> None:
    """A phrasebook's pronunciation is used for a word that the dictionary lacks, and only then."""
    both = with_own(DICTIONARY, {"grommet": ["G R AA M AH T"], "bolt": ["B AA L T"]})
    assert both["grommet"] == (("G", "R", "AA", "M", "AH", "T"),)
    assert both["bolt"] == DICTIONARY["bolt"]


# Miller and Nicely, JASA 27, 1955, table V and others: in noise, each of the first pairs is
# confused more often than the second (voicing and nasality are kept best, place is lost first).
@pytest.mark.parametrize(
    ("nearer", "farther"),
    [
        (("P", "T"), ("P", "Z")),
        (("M", "N"), ("M", "K")),
        (("F", "TH"), ("F", "G")),
        (("B", "D"), ("B", "S")),
        (("V", "DH"), ("V", "T")),
    ],
)
def test_what_listeners_confuse_is_nearer(
    nearer: tuple[str, str], farther: tuple[str, str]
) -> None:
    """Consonants that listeners confuse in noise are nearer than those that they don't."""
    assert phone_distance(*nearer) < phone_distance(*farther)


# Numbers and words that radio procedure keeps apart by special forms (fife, niner) or digit by
# digit, because they are confused (ICAO Annex 10 volume II, 5.2.1.4).
@pytest.mark.parametrize(
    ("one", "other"),
    [("five", "nine"), ("fifteen", "fifty"), ("thirteen", "thirty"), ("bolt", "volt")],
)
def test_known_confusions_are_too_alike(one: str, other: str) -> None:
    """Pairs known for being confused are within the threshold."""
    assert phrase_distance([one], [other], DICTIONARY) <= TOO_ALIKE


def test_long_different_phrases_are_far_apart() -> None:
    """Phrases without a sound in common are far over the threshold."""
    assert phrase_distance(["step", "complete"], ["torque"], DICTIONARY) > 3 * TOO_ALIKE


def test_the_nearest_ways_count() -> None:
    """Two ways to say a word are both looked at."""
    assert phrase_distance(["the"], ["the"], DICTIONARY) == 0


def test_an_unknown_word_is_never_near() -> None:
    """What has no pronunciation can't be compared."""
    assert phrase_distance(["xyzzy"], ["bolt"], DICTIONARY) == float("inf")


def test_a_strange_phone_is_refused() -> None:
    """A phone of another alphabet is an error that names it."""
    with pytest.raises(BadInput, match="ʃ"):
        phone_distance("ʃ", "S")


@given(ROWS, ROWS, ROWS)
def test_it_is_a_distance(one: list[str], two: list[str], three: list[str]) -> None:
    """Zero for the same, the same both ways, and never longer than by way of a third."""
    assert distance(one, one) == 0
    assert distance(one, two) == pytest.approx(distance(two, one))
    assert distance(one, three) <= distance(one, two) + distance(two, three) + 1e-9
    assert abs(len(one) - len(two)) <= distance(one, two) <= max(len(one), len(two)) + 1e-9


def test_pairs_are_named() -> None:
    """Each pair that means different things is told once, with its distance."""
    phrases: dict[Words, tuple[str, ...]] = {
        ("bolt",): ("part", "bolt"),
        ("volt",): ("unit", "V"),
        ("complete",): ("q",),
    }
    (pair,) = alike(phrases, DICTIONARY)
    assert str(pair) == '"bolt" and "volt" sound alike (0.3 phones apart)'
    same: dict[Words, tuple[str, ...]] = {("bolt",): ("a",), ("volt",): ("a",)}
    assert list(alike(same, DICTIONARY)) == []
    assert list(alike(phrases, DICTIONARY, among={("complete",)})) == []


def test_a_refusal_that_sounds_like_its_contrary() -> None:
    """A shop can't have "step incomplete" beside "step complete": they are two phones apart."""
    phrases: dict[Words, tuple[str, ...]] = {
        ("step", "complete"): ("done",),
        ("step", "incomplete"): ("not",),
    }
    (pair,) = alike(phrases, DICTIONARY)
    assert pair.distance == 2
