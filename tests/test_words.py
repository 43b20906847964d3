"""Lines as the screen shows them and as the voice says them."""

from __future__ import annotations

import pytest

from assistant.job.effects import line
from assistant.opening import words_of

WORDS = words_of("en")


def test_a_line_is_shown_and_spoken_from_the_same_words() -> None:
    """The screen has figures and symbols, the voice has words for each of them."""
    said = line("step.torque", value="22 N·m")
    assert WORDS.shown(said) == "Torque 22 N·m."
    assert WORDS.spoken(said) == "Torque twenty two newton meters."


def test_a_value_read_back_is_spoken_digit_by_digit() -> None:
    """One three is never thirteen, so that a mishearing is heard."""
    said = line("reading.check", name="resting voltage", digits="13.2", unit="volts")
    assert "one three point two" in WORDS.spoken(said)


def test_a_name_that_somebody_typed_does_not_end_a_job() -> None:
    """Signs without words are left out of what is spoken, and shown as they are."""
    said = line("off.item", name="heat☃shield")
    assert "heat☃shield" in WORDS.shown(said)
    assert "heat shield" in WORDS.spoken(said)


def test_a_name_without_vowels_is_spelled() -> None:
    """Nobody's name ends a job, and each is said in some way."""
    assert WORDS.spoken(line("hand_over.begin", name="Ng")).startswith("n g, this is")


@pytest.mark.parametrize(
    ("typed", "can"), [("heat shield", True), ("M8 bolt", True), ("☃", False), ("a_b", False)]
)
def test_what_can_be_said(typed: str, can: bool) -> None:
    """A text can be said if the voice has words for all of it."""
    assert WORDS.can_be_said(typed) is can


@pytest.mark.parametrize(
    ("typed", "confirms"),
    [
        ("step complete", True),
        ("the Affirm lever", True),
        ("done, and checked", True),
        ("affirmative", False),
        ("stepped completely", False),
        ("negative cable", False),
    ],
)
def test_what_confirms(typed: str, confirms: bool) -> None:
    """A text that holds a confirming phrase, whole words in order, must not be read aloud (I4)."""
    assert WORDS.confirms(typed) is confirms


def test_typed_figures_are_spelled() -> None:
    """Typed text becomes words for matching; what has none stays as it is."""
    assert WORDS.spelled("reading 12.4 V") == "reading twelve point four volts"
    assert WORDS.spelled("☃") == "☃"
