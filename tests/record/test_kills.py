"""The harness that kills whole jobs: it works, and it sees what is lost or there twice.

The table over hundreds of kills is printed by `python -m tests.record.kills`.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.end_to_end.shift import Shift
from tests.real_parts import require
from tests.record.calls import can_trace
from tests.record.killed import Cut, Killed, Player, acknowledgments, play, undisturbed
from tests.record.kills import table


@dataclass
class _Told(Shift):
    """A record that holds what it is told to hold."""

    holds: tuple[str, ...] = ()

    def agreed(self) -> list[str]:
        """What it was told."""
        return list(self.holds)


@pytest.mark.parametrize(
    ("before", "told", "holds", "lost", "doubled", "wrong"),
    [
        ([], 2, ("a", "b"), 0, 0, 0),
        (["a"], 0, ("a", "b"), 0, 0, 0),  # on the disk, and killed before it was told
        (["a"], 2, ("a", "b"), 1, 0, 1),
        (["a", "b"], 0, ("a", "c"), 1, 0, 1),
        (["a"], 1, ("a", "b", "b"), 0, 1, 1),
        (["a"], 1, ("a", "c"), 0, 0, 1),  # never said by an undisturbed job at this place
    ],
)
def test_what_is_lost_or_there_twice_is_seen(  # noqa: PLR0917 - one row of a table
    before: list[str],
    told: int,
    holds: tuple[str, ...],
    lost: int,
    doubled: int,
    wrong: int,
    tmp_path: Path,
) -> None:
    """Each of the harness's rules can be broken, and then says so."""
    player = Player(tmp_path / "job", ["a", "b", "c"], Killed(""))
    player.shift = _Told(tmp_path, holds=holds)
    player.check("a life", before, told)
    result = player.result
    assert (result.lost, result.doubled, len(result.wrong)) == (lost, doubled, wrong)


def test_acknowledgments_on_the_screen() -> None:
    """A confirmation, a reading, a release, in a live job or a rehearsal; nothing else."""
    assert acknowledgments(["Logged.", "assistant: Logged.", "Within limits by 1 mm. Logged."]) == 3
    assert acknowledgments(["The job is released.", "assistant: The job is released."]) == 2
    assert acknowledgments(["Not released yet. This is still open:", "Say: logged", "logged."]) == 0


def test_a_job_killed_after_a_reply_and_at_a_system_call(tmp_path: Path) -> None:
    """Killed right after a reply was logged and in a write of the resumed life, a job goes on."""
    require(can_trace(), "strace isn't installed or may not trace here")
    order, _ = undisturbed(tmp_path / "whole")
    assert len(order) == 14  # 11 steps, 2 readings and the release
    cuts = [Cut("logged", answers=3), Cut("call", call="write", when=6)]
    found = play(tmp_path / "killed", "calls", cuts, order)
    assert found == Killed("calls", 2, 0, found.acknowledged, released=True, audit_ok=True)
    assert 12 <= found.acknowledged <= 14
    assert "| 2 | 0 |" in table([found])
