"""Spoken clips of the repository for the tests of hearing."""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

from assistant.hearing.source import read_audio

FIXTURES = Path(__file__).parents[2] / "audio_fixtures"


@cache
def clip(words: str, speaker: str = "flite-rms") -> bytes:
    """16 kHz mono s16le of these words by this voice.

    Raises:
        LookupError: the fixtures hold no such clip.
    """
    with (FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if (row["transcript"], row["speaker"]) == (words, speaker):
                return read_audio(FIXTURES / row["file"])
    raise LookupError(f"no clip of {speaker} saying {words!r}")
