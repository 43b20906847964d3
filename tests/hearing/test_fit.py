"""The evidence that words were said, on hand-made decodings."""

from __future__ import annotations

import pytest

from assistant.hearing.engines.fit import Decoding, Segment, evidence

PHONES = {"say": ["S", "EY"], "again": ["AH", "G", "EH", "N"]}


def _words(score: float = -100.0, again: float = -40.0) -> Decoding:
    segments = (
        Segment("<s>", 0, 0, -5.0),
        Segment("<sil>", 1, 9, -4.5),
        Segment("say", 10, 29, -20.0),
        Segment("(NULL)", 29, 29, 0.0),
        Segment("again", 30, 69, again),
        Segment("<sil>", 70, 79, -5.5),
    )
    return Decoding("say again", score, 80, segments, b"")


def _loop(*phones: str) -> Decoding:
    at = [Segment("SIL", 0, 9, -5.0)]
    at += [Segment(phone, 10 + 10 * n, 19 + 10 * n, -8.0) for n, phone in enumerate(phones)]
    return Decoding(" ".join(phones), -90.0, 80, tuple(at), b"")


def test_words_that_the_loop_hears_too_fit_wholly() -> None:
    """When the free loop finds just the words' own phones, nothing is missed or extra."""
    found = evidence(_words(), _loop("S", "EY", "AH", "G", "EH", "N"), PHONES.__getitem__)
    assert found["phones"] == 0
    assert found["extra"] == 0


def test_scores_are_a_frame_of_the_words() -> None:
    """Path, acoustic part, worst word and outside are divided by their own frames (arithmetic)."""
    found = evidence(_words(), _loop("S", "EY", "AH", "G", "EH", "N"), PHONES.__getitem__)
    assert found["path"] == pytest.approx((-100.0 + 90.0) / 60)
    assert found["acoustic"] == pytest.approx((-75.0 + 53.0) / 60)
    assert found["worst"] == pytest.approx(-1.0)
    assert found["outside"] == pytest.approx(-15.0 / 20)


def test_one_badly_fitting_word_shows() -> None:
    """A phrase is as doubtful as its worst word."""
    found = evidence(_words(again=-400.0), _loop("S"), PHONES.__getitem__)
    assert found["worst"] == pytest.approx(-10.0)


def test_other_phones_are_missed() -> None:
    """Two of six phones heard as others are a third missed, and none too many."""
    found = evidence(_words(), _loop("S", "EY", "OW", "B", "EH", "N"), PHONES.__getitem__)
    assert found["phones"] == pytest.approx(-2 / 6)
    assert found["extra"] == 0


def test_more_speech_than_the_words_shows() -> None:
    """Twelve phones heard where the words have six are as many again too many."""
    found = evidence(_words(), _loop(*["S", "EY", "AH", "G", "EH", "N"] * 2), PHONES.__getitem__)
    assert found["extra"] == pytest.approx(-1.0)


def test_path_without_words_has_no_evidence() -> None:
    """A decoding that found only silence gives nothing to weigh."""
    silence = Decoding("", -1.0, 10, (Segment("<sil>", 0, 9, -1.0),), b"")
    assert evidence(silence, _loop(), PHONES.__getitem__) == {}
