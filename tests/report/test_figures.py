"""The report's pictures: values lie where they are."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from fractions import Fraction
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from assistant.report.figures import advice, bars, gauge, marks, span, ticks

NUMBERS = st.fractions(min_value=-1000, max_value=1000, max_denominator=100)


def reading(value: Fraction, low: Fraction | None, high: Fraction | None) -> dict[str, str | None]:
    """A reading as the account tells it."""

    def text(number: Fraction | None) -> str | None:
        return None if number is None else f"{float(number)} mm"

    return {"value": text(value), "at_least": text(low), "at_most": text(high)}


@given(NUMBERS, NUMBERS, NUMBERS)
def test_a_value_lies_on_its_side_of_the_limits(
    one: Fraction, two: Fraction, now: Fraction
) -> None:
    """Inside the limits it is drawn between them, outside it is drawn outside."""
    low, high = min(one, two), max(one, two)
    drawn = gauge(reading(now, low, high))
    assert drawn is not None
    assert drawn.low is not None
    assert drawn.high is not None
    assert 0 <= drawn.low <= drawn.high <= 1
    if low < now < high:
        assert drawn.low < drawn.value < drawn.high
    if now < low:
        assert drawn.value < drawn.low
    if now > high:
        assert drawn.value > drawn.high


def test_a_reading_without_limits_has_no_gauge() -> None:
    """There is nothing to draw it against."""
    assert gauge(reading(Fraction(3), None, None)) is None


ACCOUNT = {
    "began": "2026-03-02T10:00:00.000Z",
    "ended": "2026-03-02T11:00:00.000Z",
    "steps": [
        {"section": "One", "at": "2026-03-02T10:15:00.000Z"},
        {"section": "One", "at": "2026-03-02T10:30:00.000Z"},
        {"section": "Two", "at": "2026-03-02T11:00:00.000Z"},
    ],
    "safety_stops": [{"stop": "release", "at": "2026-03-02T10:45:00.000Z"}],
    "troubles": [{"kind": "leak", "at": "2026-03-02T10:06:00.000Z"}],
}


def test_sections_follow_one_another_over_the_whole_job() -> None:
    """Half an hour each; the stop at three quarters, the trouble at a tenth."""
    assert [(b.title, b.start, b.width, b.minutes) for b in bars(ACCOUNT)] == [
        ("One", 0.0, 0.5, 30),
        ("Two", 0.5, 0.5, 30),
    ]
    assert [(m.kind, m.at) for m in marks(ACCOUNT)] == [("trouble", 0.1), ("stop", 0.75)]
    began, ended = span(ACCOUNT)
    assert ended - began == 3600


@given(st.lists(st.integers(0, 3600), max_size=40))
def test_marks_in_one_lane_do_not_touch(seconds: list[int]) -> None:
    """Marks at one moment lie under one another; no more lanes than four are opened for that."""
    stops = [
        {"stop": "release", "at": f"2026-03-02T10:{at // 60 % 60:02d}:{at % 60:02d}.000Z"}
        for at in seconds
    ]
    found = marks({**ACCOUNT, "safety_stops": stops, "troubles": []})
    assert [mark.at for mark in found] == sorted(mark.at for mark in found)
    assert {mark.lane for mark in found} <= set(range(4))
    lanes = [[mark.at for mark in found if mark.lane == lane] for lane in range(4)]
    if len(seconds) <= 4:
        gaps = [later - at for lane in lanes for at, later in pairwise(lane)]
        assert all(gap >= 0.028 for gap in gaps)


@given(st.integers(1, 3_000_000), st.integers(0, 86_400))
def test_the_times_on_the_line_are_few_and_even(seconds: int, later: int) -> None:
    """Never more than nine, in order, each where its clock time lies."""
    began = datetime(2026, 3, 2, tzinfo=UTC) + timedelta(seconds=later)
    ended = began + timedelta(seconds=seconds)
    found = ticks({**ACCOUNT, "began": began.isoformat(), "ended": ended.isoformat()})
    places = [at for _, at in found]
    assert places == sorted(places)
    assert len(found) <= 9
    for label, at in found:
        if ":" in label:
            here = began + timedelta(seconds=at * max(1, seconds))
            assert abs((here - began).total_seconds() - at * max(1, seconds)) < 1
            assert f"{here + timedelta(milliseconds=5):%H:%M}" == label


def test_an_hour_has_quarters() -> None:
    """Ten to eleven: five times, evenly."""
    assert [label for label, _ in ticks(ACCOUNT)] == ["10:00", "10:15", "10:30", "10:45", "11:00"]


def test_what_stays_to_be_looked_at() -> None:
    """Open troubles, a value whose last measurement was out, things off, steps left out."""
    low = {"step": "s", "name": "play", "value": "1 mm", "limits": "≥ 2 mm", "within": False}
    account = {
        "troubles": [
            {"kind": "leak", "cleared": True, "text": ""},
            {"kind": "other", "cleared": False, "text": "rattles"},
        ],
        "readings": [low, {**low, "name": "gap"}, {**low, "value": "2 mm", "within": True}],
        "off": [{"item": "clip", "count": 2}],
        "left_out": [{"step": "polish", "reason": "declined"}],
    }
    assert list(advice(account)) == [
        ("trouble", "other", "rattles"),
        ("reading", "gap: 1 mm", "≥ 2 mm"),
        ("off", "clip", "2"),
        ("left out", "polish", "declined"),
    ]
