"""Vehicle identification numbers against the rule's own examples and an independent package."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from vininfo import Vin

from assistant import packaged
from assistant.language.numbers import spell
from assistant.trade.vin import check_digit, check_digit_holds, normalized, spoken
from tests.trade.outside import outside, value

NUMBERS = packaged.numbers_of("en")
# Check digits that were published with their number.
PUBLISHED = [
    value(
        "49 CFR 565.15", "1G4AH59H45G118341", "4"
    ),  # Table V: the products add up to 411, 411 mod 11 = 4
    value("NHTSA, outline for new manufacturers", "1J9RP1A36A1644345", "6"),  # 314 mod 11 = 6
    value("package vininfo", "1M8GDM9AXKP042788", "X"),  # its own example
    ("11111111111111111", "1"),  # the weights add up to 89, 89 mod 11 = 1
]
ALLOWED = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"


@pytest.mark.parametrize(("vin", "digit"), PUBLISHED)
def test_published_check_digits(vin: str, digit: str) -> None:
    """Worked examples."""
    assert check_digit(vin) == digit
    assert check_digit_holds(vin)


@outside("package vininfo")
@given(st.text(ALLOWED, min_size=16, max_size=16).map("1".__add__))
def test_any_number_is_judged_as_an_independent_package_does(vin: str) -> None:
    """Package vininfo: the check digit of random North American numbers, right and wrong.

    It would refuse some model years too, which is not what is compared.
    """
    right = vin[:8] + check_digit(vin) + vin[9:]
    assert check_digit_holds(right)
    assert Vin(right).verify_checksum(check_year=False)
    assert check_digit_holds(vin) == Vin(vin).verify_checksum(check_year=False)


@given(
    st.text(ALLOWED, min_size=17, max_size=17), st.integers(0, 16), st.sampled_from("0123456789")
)
def test_a_wrong_digit_is_found(vin: str, place: int, other: str) -> None:
    """One digit for another is always found: 11 is a prime, and no weight is a multiple of it."""
    right = vin[:8] + check_digit(vin) + vin[9:]
    if right[place].isdigit() and other != right[place] and place != 8:
        assert not check_digit_holds(right[:place] + other + right[place + 1 :])


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("1M8GDM9AXKP04278", "has 17 characters, this has 16"),
        ("1M8GDM9AXKPO42788", 'character 12 is "O"'),
        ("", "this has 0"),
    ],
)
def test_what_is_no_number_is_refused(text: str, said: str) -> None:
    """The message says which character, and what it may have been."""
    with pytest.raises(ValueError, match=said):
        check_digit(text)


def test_spaces_hyphens_and_small_letters_do_not_matter() -> None:
    """As it is copied from a frame."""
    assert normalized("1m8 gdm9a x kp04-2788") == "1M8GDM9AXKP042788"


def test_it_is_spoken_in_groups_of_the_spelling_alphabet() -> None:
    """ICAO Annex 10 words, maker, vehicle, check digit, and the rest by fours."""
    assert spoken("1G4AH59H45G118341", lambda one: spell(one, NUMBERS)) == (
        "one golf four",
        "alfa hotel five nine hotel",
        "four",
        "five golf one one",
        "eight three four one",
    )
