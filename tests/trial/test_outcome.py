"""What came of a clip, and why."""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from assistant.language.grammar import Grammar
from assistant.language.intent import Cost
from assistant.trial.outcome import Decision, Result, score
from assistant.trial.phrases import of_list
from assistant.trial.sound import CLEAN
from tests.trial.clips import heard, row

PHRASES = of_list("go\nstop\n", "words.txt", "en")


def came(said: Sequence[tuple[str, str]], kind: str = "command", *, masked: bool = False) -> Result:
    """The result of "go" when these words came out, each with why it was refused."""
    grammar: Grammar = PHRASES.unrelated()
    one = row(kind)
    decisions = [
        Decision(utterance, 1.0 + number, Cost.CONTROL if utterance.intent else None)
        for number, utterance in enumerate(heard(grammar, *each) for each in said)
    ]
    meant = grammar.match("go") if one.spoken else None
    return score(one, CLEAN, meant, decisions, masked=masked, seconds=1.5, voiced_s=0.8)


@pytest.mark.parametrize(
    ("said", "outcome", "cause"),
    [
        ([("go", "")], "correct", ""),
        ([("stop", "")], "wrong", "confused"),
        ([("go", ""), ("stop", "")], "wrong", "confused"),
        ([("", "no phrase"), ("go", "")], "correct", ""),
        ([], "asked again", "not-heard"),
        ([("", "no phrase")], "asked again", "no-words"),
        ([("go go", "")], "asked again", "no-phrase"),
        ([("go", "confidence 0.20 < 0.50")], "asked again", "right-refused, confidence"),
        ([("stop", "agreement 0.25 < 0.50")], "asked again", "misheard-refused, agreement"),
        ([("go", "2 dB over the room < 3 dB")], "asked again", "right-refused, level"),
        ([("go", "far under the usual level")], "asked again", "right-refused, far off"),
        ([("go", "the noise masks it")], "asked again", "right-refused, noise"),
        ([("go", "too long")], "asked again", "right-refused, too long"),
        ([("", "no phrase"), ("", "no phrase")], "asked again", "cut"),
    ],
)
def test_a_command_is_judged(said: Sequence[tuple[str, str]], outcome: str, cause: str) -> None:
    """Right only when nothing else was acted on; else the cause that can be worked on."""
    result = came(said)
    assert (result.outcome, result.cause) == (outcome, cause)


def test_masked_speech_is_told_from_speech_that_was_not_found() -> None:
    """An ear that said it can't hear in this has not missed anything."""
    assert came([], masked=True).cause == "masked"


def test_latency_runs_from_the_last_voiced_sound() -> None:
    """Decided 1.0 s into the clip, voiced until 0.8 s; what is asked again has none."""
    assert came([("go", "")]).latency_s == pytest.approx(0.2)
    assert came([("go", "confidence")]).latency_s is None


@pytest.mark.parametrize(
    ("said", "outcome", "count"),
    [
        ([], "rejected", 0),
        ([("go", "confidence 0.20 < 0.50")], "rejected", 0),
        ([("go", ""), ("", "no phrase"), ("stop", "")], "false accept", 2),
    ],
)
def test_every_command_taken_from_unrelated_speech_counts(
    said: Sequence[tuple[str, str]], outcome: str, count: int
) -> None:
    """Two commands out of one sentence are two false accepts."""
    result = came(said, "speech")
    assert (result.outcome, len(result.accepted), result.cause) == (outcome, count, "")
