"""Spoken numbers, checked against ICAO's words and an independent number speller."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from num2words import num2words  # type: ignore[import-untyped] # it ships no types

from assistant.errors import BadFile
from assistant.language.expression import ends
from assistant.language.numbers import (
    NumberWords,
    digits,
    load_numbers,
    parse_characters,
    parse_digits,
    parse_number,
    read_back,
    speak_fraction,
    speak_number,
    speak_whole,
    spell,
)
from tests.language.conftest import shipped
from tests.language.spoken import phrases_of

ENGLISH = load_numbers(*shipped("en/numbers.yaml"))
KOREAN = load_numbers(*shipped("ko/numbers.yaml"))

# ICAO Annex 10 Volume II chapter 5 and Doc 9432: the radiotelephony spelling alphabet.
ICAO = (
    "Alfa Bravo Charlie Delta Echo Foxtrot Golf Hotel India Juliett Kilo Lima Mike November Oscar "
    "Papa Quebec Romeo Sierra Tango Uniform Victor Whiskey X-ray Yankee Zulu"
)


@pytest.mark.parametrize(
    ("said", "value"),
    [
        ("five", "5"),
        ("one five", "15"),
        ("one five point two", "15.2"),
        ("one five decimal two", "15.2"),
        ("twenty five", "25"),
        ("twenty-five", "25"),
        ("one hundred twenty", "120"),
        ("nine hundred ninety nine point nine niner nine", "999.999"),
        ("zero point zero five", "0.05"),
        ("zero zero one two", "12"),
        ("one two three four", "1234"),
        ("one thousand two hundred", "1200"),
        ("nine sixteenths", "9/16"),
        ("one half", "1/2"),
        ("three quarters", "3/4"),
        ("three fourths", "3/4"),
        ("two thirds", "2/3"),
        ("five thirty-seconds", "5/32"),
        ("twenty one sixty-fourths", "21/64"),
        ("one thirty second", "1/32"),
        ("thirty one thirty seconds", "31/32"),
        ("one and one half", "3/2"),
        ("two and a half", "5/2"),
        ("one two and five eighths", "101/8"),
        ("one hundred twenty and three quarters", "483/4"),
    ],
)
def test_numbers_that_are_understood(said: str, value: str) -> None:
    """Digits, cardinals, decimals and fractions are worth what a technician means."""
    assert parse_number(said, ENGLISH) == Fraction(value)


@pytest.mark.parametrize(
    "said",
    [
        "",
        "oh",
        "point five",
        "five point",
        "five point one two three four",
        "one two three four five",
        "twenty twenty",
        "twenty ten",
        "twenty zero",
        "two hundred and five",
        "twenty five six",
        "five twenty",
        "three halves",
        "nine eighths",
        "half",
        "a half",
        "one and nine",
        "one half and one",
        "thirty seconds",
        "five point two halves",
        "12",
        "minus five",
        "to five",
    ],
)
def test_words_that_are_no_number(said: str) -> None:
    """What nobody would say for one number is none; it is asked again instead."""
    assert parse_number(said, ENGLISH) is None


@given(phrases_of(ENGLISH.number))
@settings(deadline=None, max_examples=400)
def test_every_admitted_number_has_one_value_and_survives_being_spoken(
    said: tuple[str, ...],
) -> None:
    """Whatever the grammar admits has one value; spoken either way it comes back the same."""
    value = parse_number(said, ENGLISH)
    assert value is not None
    assert parse_number(speak_number(value, ENGLISH), ENGLISH) == value
    assert parse_number(read_back(value, ENGLISH), ENGLISH) == value


@given(phrases_of(KOREAN.number))
@settings(deadline=None)
def test_the_same_in_korean(said: tuple[str, ...]) -> None:
    """The shapes hold for a language whose words are data only."""
    value = parse_number(said, KOREAN)
    assert value is not None
    assert parse_number(speak_number(value, KOREAN), KOREAN) == value
    assert parse_number(read_back(value, KOREAN), KOREAN) == value


@given(st.lists(st.sampled_from(sorted(ENGLISH.vocabulary | {"and", "a", "an"})), max_size=8))
@settings(deadline=None, max_examples=400)
def test_the_grammar_and_the_parser_agree(words: list[str]) -> None:
    """Words below a thousand are admitted exactly when they are worth something."""
    assume("thousand" not in words)
    said = tuple(words)
    admitted = bool(said) and len(said) in ends(ENGLISH.number, said, 0)
    assert admitted == (parse_number(said, ENGLISH) is not None)


def test_cardinals_agree_with_an_independent_speller() -> None:
    """0 to 9999 are said as the num2words package spells them, in American style."""
    for value in range(10_000):
        spelled = re.sub(r"[-,]", " ", num2words(value)).replace(" and ", " ")
        assert speak_whole(value, ENGLISH).split() == spelled.split()
        assert parse_number(speak_whole(value, ENGLISH), ENGLISH) == value


def test_korean_cardinals_agree_with_an_independent_speller() -> None:
    """1 to 999 are said as the num2words package spells them, but for the spaces."""
    for value in range(1, 1000):
        assert speak_whole(value, KOREAN).replace(" ", "") == num2words(value, lang="ko")
        assert parse_number(speak_whole(value, KOREAN), KOREAN) == value


def test_no_two_cardinals_and_no_two_fractions_sound_the_same() -> None:
    """Each word sequence stands for one value, over all of them and both tables."""
    fractions = ENGLISH.proper_fractions
    assert not ENGLISH.cardinals.keys() & fractions.keys()
    assert len(ENGLISH.cardinals) == 1000
    # Doubles: a quarter and a fourth are two names; 3 of 4 and 1 of 4 have them.
    assert len(fractions) == (1 + 2 + 3 * 2 + 7 + 15 + 31 + 63)


def test_the_alphabet_is_icaos() -> None:
    """Letters are named as ICAO Annex 10 spells them, Alfa and Juliett included."""
    for name in ICAO.split():
        (way,) = ENGLISH.letters[name[0]]
        assert way == tuple(name.lower().replace("-", " ").split())
    assert len(ENGLISH.letters) == 26


def test_digit_words_are_icaos() -> None:
    """Figures are the plain words of ICAO Doc 9432, and its niner is understood."""
    figures = ["zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine"]
    assert [ENGLISH.digits[str(n)][0] for n in range(10)] == [(word,) for word in figures]
    assert parse_digits("niner zero", ENGLISH) == "90"
    assert "oh" not in ENGLISH.vocabulary


def test_digit_by_digit() -> None:
    """Figures and one point; anything else is an error that names the text."""
    assert digits("73", ENGLISH) == "seven three"
    assert digits("12.40", ENGLISH) == "one two point four zero"
    for bad in ("", "7a", "1.2.3", "-3", "٣"):
        with pytest.raises(ValueError, match="digit by digit"):
            digits(bad, ENGLISH)


@given(st.text(st.sampled_from("ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-"), min_size=1, max_size=24))
@settings(deadline=None)
def test_a_part_number_survives_being_spelled(number: str) -> None:
    """What is spelled is heard again, without its dashes."""
    heard = parse_characters(spell(number, ENGLISH), ENGLISH)
    assert (heard or "") == number.replace("-", "")


def test_spelling_names_what_it_cannot_say() -> None:
    """A sign without a name is an error, never dropped."""
    with pytest.raises(ValueError, match='"_"'):
        spell("A_1", ENGLISH)
    with pytest.raises(ValueError, match='"A"'):
        spell("A1", KOREAN)


@pytest.mark.parametrize(
    ("value", "said"),
    [
        ("22.5", "twenty two point five"),
        ("9/16", "nine sixteenths"),
        ("1/3", "one third"),
        ("4/3", "one and one third"),
        ("1/7", "one over seven"),
        ("1250000", "one two five zero zero zero zero"),
        ("-0.5", "minus zero point five"),
    ],
)
def test_how_numbers_are_said(value: str, said: str) -> None:
    """A number is said as `number_text` writes it."""
    assert speak_number(Fraction(value), ENGLISH) == said


def test_a_fraction_without_words_is_an_error() -> None:
    """A language without fractions says so."""
    with pytest.raises(ValueError, match="no words"):
        speak_fraction(Fraction(9, 16), KOREAN)


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("  7: [seven]\n", "", "number-gap"),
        ("9: [nine, niner]", "9: [nine, eight]", "two-meanings"),
        ("9: [nine, niner]", "9: [nine, nine er]", "digit-word"),
        ("80: eighty, ", "", "number-gap"),
        ("900: nine hundred", "950: nine fifty", "number-gap"),
        ("  16: {one: [sixteenth], many: [sixteenths]}", "  16: {one: [sixteenth]}", "fraction"),
        ("  A: [alfa]", "  AA: [alfa]", "letter"),
        ("  B: [bravo]", "  B: [alfa]", "two-meanings"),
        ("point: [point, decimal]", "point: yes", "list-type"),
        ("separators:", "seperators:", "extra-forbidden"),
    ],
)
def test_mistakes_in_the_file(old: str, new: str, code: str) -> None:
    """Each mistake is found, with its line."""
    text, file = shipped("en/numbers.yaml")
    assert old in text
    with pytest.raises(BadFile) as caught:
        load_numbers(text.replace(old, new), file)
    finding = caught.value.findings[0]
    assert finding.code == code
    assert finding.line > 0


def test_words_and_a_sequence_are_the_same(numbers: NumberWords) -> None:
    """Text and split words are both understood."""
    assert parse_number(["two", "two"], numbers) == parse_number("Two two.", numbers) == 22
