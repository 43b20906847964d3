"""A live job killed again and again: nothing that was acknowledged is lost, nothing done twice."""

from __future__ import annotations

import random
import time
from dataclasses import dataclass, field
from pathlib import Path

from assistant.accounts import account_of
from assistant.errors import RecordDamaged
from assistant.job.machine import replay
from assistant.job.state import JobState, Mode, Setting
from assistant.opening import setting_from_record
from assistant.packaged import phrasebook
from assistant.record.audit import audit
from assistant.record.chain import Chain, TornLine
from assistant.record.entry import Entry
from assistant.record.folder import JOURNAL
from assistant.record.keeper import events_in, header_in
from assistant.rehearsal.script import Script, load_script
from assistant.rehearsal.technician import Technician
from tests.end_to_end.running import NO_LOUDSPEAKER, ROOT, Live, gloveson, live

KILLS = 7
CHECKLIST = "clutch-cable-adjustment"
SCRIPT = ROOT / "assistant/rehearsal/data/en/raised-handlebar.yaml"


def _script() -> Script:
    return load_script(SCRIPT.read_text(encoding="utf-8"), SCRIPT.name).without_moments(CHECKLIST)


def _entries(folder: Path) -> list[Entry]:
    """The whole entries on the disk, whatever a kill has left behind them."""
    found: list[Entry] = []
    try:
        with (folder / JOURNAL).open("rb") as file:
            found.extend(Chain(file, folder.name))
    except TornLine:
        pass
    except (FileNotFoundError, RecordDamaged):
        assert not found
    return found


@dataclass
class Shift:
    """Somebody who answers what the assistant asks, from what is on record alone.

    Attributes:
        acknowledged: steps whose confirmation the screen has acknowledged.
    """

    folder: Path
    acknowledged: set[str] = field(default_factory=set)
    setting: Setting | None = None
    technician: Technician | None = None

    def state(self) -> JobState:
        """The job as its record has it now."""
        entries = _entries(self.folder)
        if not entries:
            return JobState()
        if self.setting is None:
            self.setting = setting_from_record(self.folder, header_in("kill", entries))
            self.technician = Technician(self.setting, phrasebook("en"), _script())
        return replay(self.setting, events_in("kill", entries))

    def done(self) -> list[str]:
        """Steps confirmed on record."""
        return [done.step for done in self.state().progress.done]

    def waits(self, job: Live, count: int, timeout_s: float = 20.0) -> bool:
        """Wait until the assistant has said something after this many entries, or died."""
        end = time.monotonic() + timeout_s
        while time.monotonic() < end and job.child.poll() is None:
            new = _entries(self.folder)[count:]
            if new and new[-1].kind in ("said", "sealed"):
                return True
            time.sleep(0.01)
        return False

    def answer(self, job: Live, wait_s: float | None) -> bool:
        """Type what is asked for; kill the program after `wait_s`, or see the answer.

        Returns:
            Whether the job still runs.
        """
        state = self.state()
        step = state.step(self.setting) if self.setting is not None else None
        assert self.technician is not None
        words = self.technician.next_turn(state).words
        entries, screen = len(_entries(self.folder)), len(job.screen)
        job.type(words)
        if wait_s is not None:
            time.sleep(wait_s)
            job.kill()
        else:
            assert self.waits(job, entries), (words, job.screen[screen:])
            time.sleep(0.05)  # what is on record now comes onto the screen
        if "Logged." in job.screen[screen:] and step is not None:
            self.acknowledged.add(step.id)
        return wait_s is None


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
        seen = len(_entries(folder))
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
