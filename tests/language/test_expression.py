"""Normalizing words, and where expressions end."""

from __future__ import annotations

import pytest

from assistant.language.expression import Choice, Repeat, Run, Word, ends, normalize, phrase


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("Step complete.", ("step", "complete")),
        ("  STEP\tCOMPLETE!  ", ("step", "complete")),
        ("X-ray", ("x", "ray")),
        ("thirty-seconds", ("thirty", "seconds")),
        ("don’t 'stop'", ("don't", "stop")),
        ("다시 말해 주세요.", ("다시", "말해", "주세요")),
        ("step_done", ("step", "done")),
        ("", ()),
    ],
)
def test_normalize(text: str, words: tuple[str, ...]) -> None:
    """Case, punctuation and hyphens make no difference; nothing else is forgiven."""
    assert normalize(text) == words


def test_decomposed_letters_equal_composed_ones() -> None:
    """Korean typed as separate letters is the same word."""
    assert normalize("\u1103\u1161\u1109\u1175") == normalize("다시")


def test_ends_of_a_loop() -> None:
    """A loop ends after each of its turns, within its bounds."""
    words = ("a", "a", "a", "b")
    assert ends(Repeat(Word("a"), 1, None), words, 0) == {1, 2, 3}
    assert ends(Repeat(Word("a"), 0, 2), words, 0) == {0, 1, 2}
    assert ends(Repeat(Word("a"), 2, 2), words, 0) == {2}
    assert ends(Repeat(Word("b"), 1, None), words, 0) == frozenset()


def test_ends_of_choices() -> None:
    """All ways through are found, not only the first."""
    either = Choice((Word("a"), phrase("a a")))
    assert ends(Run((either, either)), ("a", "a", "a", "a"), 0) == {2, 3, 4}
