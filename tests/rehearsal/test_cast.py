"""The voices of a rehearsal: recordings where there are some, rendered lines otherwise."""

from __future__ import annotations

import csv

import numpy as np
import pytest

from assistant.hearing.source import RATE
from assistant.rehearsal.cast import Cast, fixtures_folder
from assistant.rehearsal.script import Person
from tests.hearing.clips import clip
from tests.rehearsal.stage import QuickVoice, demo

PEOPLE = {
    "mara": Person(name="Mara", voice="flite-rms"),
    "tobin": Person(name="Tobin", voice="neural-nezumi"),
}


def _cast() -> tuple[Cast, QuickVoice]:
    voice = QuickVoice()
    return Cast(PEOPLE, voice), voice  # type: ignore[arg-type] # a voice without a process


def _seconds(pcm: bytes) -> float:
    return len(pcm) / 2 / RATE


@pytest.mark.parametrize(("who", "voice"), [("mara", "flite-rms"), ("tobin", "neural-nezumi")])
def test_a_recorded_line_is_the_recording(who: str, voice: str) -> None:
    """A line that the fixtures hold comes in the person's own voice, sample for sample."""
    made, rendered = _cast()
    assert made.line(who, "step complete") == clip("step complete", voice)
    assert made.line(who, "Step Complete") == clip("step complete", voice)
    assert rendered.said == []
    assert (made.recorded, made.rendered) == (2, 0)


def test_a_challenge_number_is_joined_to_its_words() -> None:
    """Words and digits that were recorded apart become one line with short pauses."""
    made, rendered = _cast()
    words = clip("negative is off and clear", "flite-rms")
    line = made.line("mara", "negative is off and clear seven three")
    assert rendered.said == []
    assert _seconds(words) < _seconds(line) < _seconds(words) + 2.0
    loud = np.abs(np.frombuffer(line, dtype="<i2").astype(int))
    assert loud[-RATE // 2 :].max() > 1000  # the number is at its end


def test_what_nobody_recorded_is_rendered() -> None:
    """A line with one word that no recording holds is rendered as a whole."""
    made, rendered = _cast()
    assert _seconds(made.line("mara", "small scratch on the tank")) == pytest.approx(0.1)
    assert rendered.said == ["small scratch on the tank"]
    assert (made.recorded, made.rendered) == (0, 1)


def test_the_people_of_the_demo_have_held_out_voices() -> None:
    """The rehearsal speaks with voices that the recogniser's bars were not tuned on."""
    with (fixtures_folder() / "manifest.csv").open(encoding="utf-8", newline="") as rows:
        sets = {row["speaker"]: row["split"] for row in csv.DictReader(rows)}
    for person in ("mara", "tobin"):
        assert sets[demo().people[person].voice] == "held-out"
