"""What may be said next, worked out ahead."""

from __future__ import annotations

import pytest

from assistant.job.ahead import likely_lines
from assistant.job.state import Mode
from tests.job.bench import Bench, at_step
from tests.job.test_table import MAKE


def test_a_confirmation_says_what_was_foreseen() -> None:
    """Through a whole job, what a confirmation says was there ahead, but for the numbers."""
    bench = Bench()
    compared = 0
    while bench.state.mode is not Mode.RELEASED:
        before, ahead = bench.state, likely_lines(bench.setting, bench.state)
        bench.answer()
        if len(bench.state.progress.done) > len(before.progress.done) and ahead:
            said = [line for line in bench.lines() if line.key != "stop.number"]
            assert set(said) <= set(ahead)
            compared += 1
    assert compared >= 10


def test_what_is_still_asked_is_foreseen_too() -> None:
    """A reading that is still absent is rendered first."""
    bench = at_step("resting-voltage")
    assert likely_lines(bench.setting, bench.state)[0].key == "step.reading_condition"


@pytest.mark.parametrize("mode", Mode)
def test_looking_ahead_is_pure(mode: Mode) -> None:
    """Twice the same answer, and the job is as it was; only an open step looks ahead."""
    bench = MAKE[mode]()
    before = bench.state
    lines = likely_lines(bench.setting, bench.state)
    assert lines == likely_lines(bench.setting, bench.state)
    assert bench.state == before
    assert bool(lines) is (mode is Mode.STEP)
