"""A wall clock that was set is an entry; one that only drifts, or a long pause, is none."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import RecordDamaged
from assistant.record.audit import audit
from assistant.record.clocks import CLOCK, Times, clock_steps, step_between
from assistant.record.journal import Journal
from assistant.record.keeper import RecordKeeper
from assistant.record.reading import read_entries
from tests.record.making import JOB, TONE

START = "2026-03-02T10:20:00.000Z"


@pytest.mark.parametrize(
    ("wall", "ran", "step"),
    [
        ("2026-03-02T10:20:05.000Z", 5.0, None),
        ("2026-03-02T10:34:05.000Z", 5.0, 840.0),
        ("2026-03-02T10:06:05.000Z", 5.0, -840.0),
        ("2026-03-02T22:20:15.000Z", 43_200.0, None),  # 15 s of drift in twelve hours
        ("2026-03-02T10:20:02.100Z", 0.0, 2.1),
        ("2026-03-02T10:20:01.900Z", 0.0, None),
    ],
)
def test_set_or_only_passed(wall: str, ran: float, step: float | None) -> None:
    """What the wall clock moved more than the running clock, beyond drift, is a step."""
    found = step_between(Times(START, 100.0), wall, 100.0 + ran)
    assert found == (None if step is None else pytest.approx(step))


@given(st.floats(0, 90_000), st.integers(0, 59))
def test_time_that_passes_is_no_step(ran: float, second: int) -> None:
    """However long a pause is, both clocks moving together are no step."""
    day, rest = divmod(int(ran) + second, 86_400)
    hour, rest = divmod(rest, 3600)
    wall = f"2026-03-{2 + day:02d}T{hour:02d}:{rest // 60:02d}:{rest % 60:02d}.000Z"
    before = Times(f"2026-03-02T00:00:{second:02d}.000Z", 7.0)
    assert step_between(before, wall, 7.0 + ran) is None


def test_after_a_restart_only_a_clock_that_went_back_is_told() -> None:
    """Another run's monotonic clock can't be compared, perhaps the machine was off."""
    assert step_between(Times(START, None), "2026-03-03T10:00:00.000Z", 1.0) is None
    found = step_between(Times(START, None), "2026-03-02T10:19:00.000Z", 1.0)
    assert found == pytest.approx(-60)


def test_a_set_clock_is_an_entry_before_the_next(tmp_path: Path) -> None:
    """Set forth and back: two entries, both clocks of each kept, and the audit counts them."""
    folder = tmp_path / JOB
    with Journal.create(folder) as journal:
        keeper = RecordKeeper(journal)
        keeper.append("opened", {"job": JOB}, START, 100.0)
        keeper.append("said", {"text": "a"}, "2026-03-02T10:34:01.000Z", 101.0)
        keeper.append("said", {"text": "b"}, "2026-03-02T10:34:02.000Z", 102.0)
        keeper.append("said", {"text": "c"}, "2026-03-02T10:20:03.000Z", 103.0)
        keeper.seal("2026-03-02T10:20:04.000Z", 104.0)
    entries = read_entries(folder)
    kinds = ["opened", "clock", "said", "said", "clock", "said", "sealed"]
    assert [entry.kind for entry in entries] == kinds
    monos = [entry.mono for entry in entries]
    assert monos == sorted(monos)
    assert clock_steps(entries) == [
        {"n": 1, "at": "2026-03-02T10:34:01.000Z", "before": START, "seconds": 840},
        {
            "n": 4,
            "at": "2026-03-02T10:20:03.000Z",
            "before": "2026-03-02T10:34:02.000Z",
            "seconds": -840,
        },
    ]
    found = audit(folder)
    assert (found.ok, found.clock_set) == (True, 2)


def test_an_entry_that_does_not_tell_how_far_is_damage(tmp_path: Path) -> None:
    """A record made by somebody else may hold anything; what it can't mean is named."""
    with Journal.create(tmp_path / JOB) as journal:
        journal.append(CLOCK, {"before": START, "seconds": "an hour"}, START, 1.0)
        with pytest.raises(RecordDamaged, match="entry 0 tells of a clock"):
            clock_steps(journal.entries)


def test_set_just_before_the_seal(tmp_path: Path) -> None:
    """The seal too comes after the entry that tells of a set clock."""
    with Journal.create(tmp_path / JOB) as journal:
        keeper = RecordKeeper(journal)
        keeper.append("opened", {"job": JOB}, START, 100.0)
        keeper.seal("2026-03-02T09:20:00.000Z", 101.0)
        assert [entry.kind for entry in journal.entries] == ["opened", "clock", "sealed"]


def test_an_open_jobs_newest_clip_is_no_stray(tmp_path: Path) -> None:
    """Between a clip and its entry the job is open and right; sealed, every clip is named."""
    with Journal.create(tmp_path / JOB) as journal:
        keeper = RecordKeeper(journal)
        keeper.append("opened", {"job": JOB}, START, 100.0)
        keeper.keep_clip(TONE)
        found = audit(tmp_path / JOB)
        assert (found.ok, found.unnamed) == (True, ("clips/000001.flac",))
        (tmp_path / JOB / "clips" / "loose.txt").write_text("x", encoding="utf-8")
        assert not audit(tmp_path / JOB).ok
