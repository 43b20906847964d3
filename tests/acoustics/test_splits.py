"""Which recordings may be trained on."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from assistant.acoustics.splits import (
    HELD_WORDS,
    UNHEARD_WORDS,
    noises,
    share,
    test_recordings,
    training_recordings,
)

test_recordings.__test__ = False  # type: ignore[attr-defined] # a function of ours, no test

_SPEECH = Path(__file__).parents[3] / "shared" / "speech"
needs_speech = pytest.mark.skipif(
    not (_SPEECH / "manifest.csv").exists(), reason="the recordings of people are not here"
)


def test_the_hash_of_a_name_stays() -> None:
    """A split made today is the split of next year: SHA-256 of "a" begins with ca978112ca1b."""
    assert share("a") == int("ca978112ca1b", 16) / 16**12


@needs_speech
def test_no_speaker_trains_and_tests() -> None:
    """Nobody who is tested on was trained on or tuned with."""
    trained = {each.speaker for each in training_recordings(_SPEECH)}
    assert trained.isdisjoint(row["speaker"] for row in test_recordings(_SPEECH))


@needs_speech
def test_words_held_back_are_not_trained_on() -> None:
    """No clip that trains holds a word kept for measuring."""
    for each in training_recordings(_SPEECH):
        words = set(each.text.split())
        assert not words & UNHEARD_WORDS
        assert each.split != "train" or not words & HELD_WORDS


@needs_speech
def test_takes_of_one_noise_stay_together() -> None:
    """No noise is in both splits, and all are in one."""
    train, test = set(noises(_SPEECH, "train")), set(noises(_SPEECH, "test"))
    with (_SPEECH / "manifest.csv").open(encoding="utf-8", newline="") as file:
        count = sum(row["kind"] == "noise" for row in csv.DictReader(file))
    assert not train & test
    assert len(train) + len(test) == count
