"""Only words reach a voice, in pieces that it can take."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.speaking.phrasing import LONGEST, check_words, pieces


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("3m of line", "DIGIT THREE"),
        ("22 N·m", "MIDDLE DOT"),
        ("9/16 inch", "SOLIDUS"),
        ("M8 × one", "MULTIPLICATION SIGN"),
        ("fifty % full", "PERCENT SIGN"),
        ("½ turn", "VULGAR FRACTION ONE HALF"),
        ("five °C", "DEGREE SIGN"),
        ("<speak>", "LESS-THAN SIGN"),
        ("[[h@loU]]", "LEFT SQUARE BRACKET"),
        ("a\x00b", "unnamed"),
    ],
)
def test_digits_and_symbols_are_refused_by_name(text: str, named: str) -> None:
    """What a voice would have to guess at is an error that names it."""
    with pytest.raises(ValueError, match=named):
        check_words(text)


@pytest.mark.parametrize("text", ["", "  ", "...", "?!"])
def test_nothing_to_say_is_refused(text: str) -> None:
    """A text without a letter is an error, since a voice never finishes it."""
    with pytest.raises(ValueError, match="nothing to say"):
        check_words(text)


@pytest.mark.parametrize(
    "text",
    [
        "M eight by one point two five.",
        "Don\u2019t move it \u2013 say: \u201cstep complete\u201d!",
        "배터리를 분리하십시오.",
        "¿Está la línea floja? Sí, señor.",
        "नमस्ते।".replace("।", "."),
    ],
)
def test_words_of_any_language_pass(text: str) -> None:
    """Letters, accents and plain punctuation are words."""
    assert check_words(text) == text


def test_spaces_and_line_ends_become_single_spaces() -> None:
    """A folded YAML text is one line for the voice."""
    assert check_words(" Lower\n  the tank. ") == "Lower the tank."


def test_pieces_are_the_sentences() -> None:
    """Each sentence is rendered, and kept, by itself."""
    text = 'Stop. Is the key off? Say "battery off." Then go on!'
    assert pieces(text) == ["Stop.", "Is the key off?", 'Say "battery off.', "Then go on!"]


@given(
    st.lists(
        st.tuples(
            st.text("abcdefgh", min_size=1, max_size=60), st.sampled_from(["", "", ",", ".", "?"])
        ),
        min_size=1,
        max_size=400,
    )
)
def test_pieces_are_short_and_lose_no_word(told: list[tuple[str, str]]) -> None:
    """Any text comes out in pieces of bounded length that hold its words in order."""
    text = check_words(" ".join(word + mark for word, mark in told))
    found = pieces(text)
    assert all(len(piece) <= LONGEST for piece in found)
    assert "".join(" ".join(found).split()) == "".join(text.split())


def test_a_word_longer_than_a_piece_is_cut() -> None:
    """Even one endless word can't reach the length at which the voice crashes."""
    found = pieces("a" * 19_000)
    assert "".join(found) == "a" * 19_000
    assert max(map(len, found)) <= LONGEST
