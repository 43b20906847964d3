"""Somebody who does a typed job over several lives of the program, some of them cut short."""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from pathlib import Path

from assistant.errors import RecordDamaged
from assistant.job.machine import replay
from assistant.job.state import JobState, Mode, Setting
from assistant.opening import setting_from_record
from assistant.packaged import phrasebook
from assistant.record.chain import Chain, TornLine
from assistant.record.entry import Entry
from assistant.record.folder import JOURNAL
from assistant.record.keeper import events_in, header_in
from assistant.rehearsal.script import Script, load_script
from assistant.rehearsal.technician import Technician
from tests.end_to_end.running import ROOT, Live

CHECKLIST = "clutch-cable-adjustment"
SCRIPT = ROOT / "assistant/rehearsal/data/en/raised-handlebar.yaml"


def _script() -> Script:
    return load_script(SCRIPT.read_text(encoding="utf-8"), SCRIPT.name).without_moments(CHECKLIST)


def entries_of(folder: Path) -> list[Entry]:
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
        entries = entries_of(self.folder)
        if not entries:
            return JobState()
        if self.setting is None:
            self.setting = setting_from_record(self.folder, header_in(self.folder.name, entries))
            self.technician = Technician(self.setting, phrasebook("en"), _script())
        return replay(self.setting, events_in(self.folder.name, entries))

    def done(self) -> list[str]:
        """Steps confirmed on record."""
        return [done.step for done in self.state().progress.done]

    def agreed(self) -> list[str]:
        """On record: everything the screen acknowledges, steps, readings and the release."""
        state = self.state()
        found = [f"step {done.step}" for done in state.progress.done]
        found += [f"reading {taken.step}: {taken.name}" for taken in state.progress.readings]
        return [*found, "release"] if state.mode is Mode.RELEASED else found

    def waits(self, job: Live, count: int, timeout_s: float = 20.0) -> bool:
        """Wait until the assistant has said something after this many entries, or died."""
        end = time.monotonic() + timeout_s
        while time.monotonic() < end and job.child.poll() is None:
            new = entries_of(self.folder)[count:]
            if new and new[-1].kind in ("said", "sealed"):
                return True
            time.sleep(0.01)
        return False

    def words(self) -> str:
        """What is typed now."""
        state = self.state()
        assert self.technician is not None
        return self.technician.next_turn(state).words

    def answer(self, job: Live, wait_s: float | None) -> bool:
        """Type what is asked for; kill the program after `wait_s`, or see the answer.

        Returns:
            Whether the job still runs.
        """
        state = self.state()
        step = state.step(self.setting) if self.setting is not None else None
        words = self.words()
        entries, screen = len(entries_of(self.folder)), len(job.screen)
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
