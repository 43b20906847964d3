"""A live job killed again and again: nothing that was acknowledged is lost, nothing done twice."""

from __future__ import annotations

import random
import time
from pathlib import Path

from assistant.accounts import account_of
from assistant.job.state import Mode
from assistant.record.audit import audit
from tests.end_to_end.running import NO_LOUDSPEAKER, gloveson, live
from tests.end_to_end.shift import CHECKLIST, Shift, entries_of

KILLS = 7


def test_killed_in_the_middle_of_a_job(tmp_path: Path) -> None:
    """Killed at random instants and resumed each time, the job ends released and whole."""
    chance = random.Random(9)  # noqa: S311 - instants, not secrets
    folder = tmp_path / "jobs" / "kill"
    shift = Shift(folder)
    command = ["start", CHECKLIST, "--who", "Mara", "--job", "kill"]
    kills = 0
    for life in range(KILLS + 1):
        if life in (2, 5):  # killed again while it is only just getting up
            with live(tmp_path, *command, "--typed", *NO_LOUDSPEAKER) as job:
                time.sleep(chance.uniform(0.4, 1.2))
                job.kill()
        seen = len(entries_of(folder))
        with live(tmp_path, *command, "--typed", *NO_LOUDSPEAKER) as job:
            assert shift.waits(job, seen), job.screen
            answers = 0
            while shift.state().mode is not Mode.RELEASED:
                die = life < KILLS and answers >= chance.randrange(1, 4)
                answers += 1
                if not shift.answer(job, chance.uniform(0.0, 0.06) if die else None):
                    kills += 1
                    break
            else:
                assert job.wait() == 0
        done = shift.done()
        assert len(done) == len(set(done)), "a step was confirmed twice"
        assert shift.acknowledged <= set(done), "a confirmation that was acknowledged is lost"
        if shift.state().mode is Mode.RELEASED:
            break
        command = ["resume", "kill"]
    assert kills == KILLS
    assert len(shift.acknowledged) >= 5

    account = account_of(folder)
    assert account["status"] == "released"
    assert shift.setting is not None
    assert [row["step"] for row in account["steps"]] == [p.id for p in shift.setting.plan.steps]
    assert account["off"] == []
    found = audit(folder)
    assert found.ok, found.problem
    assert found.seal == account["seal"] is not None
    assert gloveson(tmp_path, "resume", "kill", "--typed").code == 2  # closed for good
