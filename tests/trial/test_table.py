"""The figures of a trial, worked out by hand."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest

from assistant.language.intent import Cost
from assistant.trial.outcome import Result
from assistant.trial.report import report
from assistant.trial.sound import CLEAN, Condition
from assistant.trial.table import Table
from tests.trial.clips import noisy, row, spent


def result(outcome: str, condition: Condition = CLEAN, kind: str = "command") -> Result:
    """A clip of half an hour, so that rates are easy to work out."""
    made = Result(row(kind), condition, outcome, seconds=1800.0, text="go")
    if outcome == "correct":
        return replace(made, latency_s=0.2, confidence=0.9)
    cause = {"asked again": "not-heard", "wrong": "confused"}.get(outcome, "")
    return replace(made, cause=cause)


@pytest.fixture
def table() -> Table:
    """Three clean commands, two in noise, an hour of speech, half an hour of noise."""
    results = [
        result("correct", noisy(10)),
        result("asked again", noisy(20)),
        result("correct"),
        result("correct"),
        replace(result("wrong"), text="stop"),
        replace(result("correct", kind="reading"), latency_s=0.4),
        result("rejected", kind="speech"),
        replace(
            result("false accept", kind="speech"),
            accepted=(Cost.CONTROL, Cost.QUESTION, Cost.READ_BACK),
            text="go",
        ),
        result("rejected", kind="noise"),
    ]
    return Table(tuple(results), (spent(), spent(30.0)))


def test_lines_come_clean_first_then_by_falling_ratio(table: Table) -> None:
    """Commands before readings, each condition once."""
    found = [(line.kind, line.condition.snr_db, line.n, line.correct) for line in table.lines]
    assert found == [
        ("command", None, 3, 2),
        ("command", 20, 1, 0),
        ("command", 10, 1, 1),
        ("reading", None, 1, 1),
    ]
    for line in table.lines:
        assert line.correct + line.asked_again + line.wrong == line.n


def test_false_accepts_are_counted_by_the_hour_and_apart(table: Table) -> None:
    """Two ordinary commands and one read-back in one hour of speech, none in half of noise."""
    assert table.per_hour("speech") == pytest.approx(2)
    assert table.per_hour("speech", read_back=True) == pytest.approx(1)
    assert table.per_hour("noise") == 0
    assert table.rejected() == (1, 2)


def test_the_json_has_every_field_that_others_rely_on(table: Table) -> None:
    """The object T of product.md: names and types as written there."""
    made = json.loads(json.dumps(table.as_json()))
    first = made["conditions"][0]
    assert {k: first[k] for k in ("kind", "noise", "snr_db", "n", "correct")} == {
        "kind": "command",
        "noise": None,
        "snr_db": None,
        "n": 3,
        "correct": 2,
    }
    assert (first["asked_again"], first["wrong"], first["accuracy"]) == (0, 1, 0.6667)
    assert first["wilson95"] == [0.2077, 0.9385]  # Wilson, 2 of 3, worked out by hand
    assert made["false_accepts_per_hour"]["speech"] == 2
    assert made["false_accepts_per_hour"]["noise"] == 0
    assert made["hours"] == {"speech": 1.0, "noise": 0.5}
    assert made["latency_ms"] == {"median": 200, "p95": 370}
    assert made["rtf"] == 0.1
    assert made["peak_mb"] == 50.0
    assert made["conditions"][1]["missed"] == 1


def test_what_was_not_measured_is_null() -> None:
    """No unrelated sound: no rate. No command understood: no latency."""
    made = Table((result("asked again"),), ()).as_json()
    assert made["false_accepts_per_hour"]["speech"] is None
    assert made["latency_ms"] == {"median": None, "p95": None}
    assert made["rtf"] is None


def test_the_report_says_the_same(table: Table) -> None:
    """Accuracy with interval, false accepts, latency, causes and confusions, both ways."""
    text = report({"ours": table, "plain": table})
    lines = text.splitlines()
    assert "66.7%  20.8% to 93.9%" in lines[1]
    assert "ours: 2 false accepts and 1 read-backs in 60.0 min of speech" in text
    assert "median 200 ms, 95 % within 370 ms" in text
    assert "command machines 20: not-heard 1" in text
    assert "go > stop 1" in text
    assert "themselves" not in text
    assert all(line.count("plain") for line in lines if line.startswith("plain"))


def test_what_never_ended_and_which_noise_it_was_stand_under_the_table() -> None:
    """How many, and what came of them; latency as it was; how many noise clips there were."""
    at = replace(row(), transcript="stop")
    late = [
        replace(result("correct", noisy(10)), late=True, latency_s=5.0),
        replace(result("wrong", noisy(10)), late=True, noise_clip="a.wav"),
        replace(result("correct", noisy(5)), noise_clip="a.wav"),
        replace(result("correct", noisy(5)), row=at, noise_clip="a.wav"),
    ]
    table = Table(tuple(late), ())
    text = report({"plain": table})
    assert "plain: 2 of 4 never ended by themselves within 5 s" in text
    assert "1 right, 0 again, 1 wrong" in text
    assert table.as_json()["latency_ms"]["p95"] == 4520  # 0.2, 0.2, 5.0, by hand
    assert "1 noise clips under 2 rows" in text
