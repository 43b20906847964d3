"""A job killed and taken up again through a real journal on disk."""

from __future__ import annotations

import tempfile
from pathlib import Path

from assistant.job.events import Event
from assistant.job.machine import replay
from assistant.job.serial import event_kind, to_data
from assistant.job.state import JobState
from assistant.opening import OpenJob, open_job, resume_job
from assistant.record.entry import make_entry
from assistant.record.folder import JOURNAL
from assistant.record.keeper import events_in
from tests.job.bench import ROSTER
from tests.job.talk.talker import JOB, Talker

_MEMORY = Path("/dev/shm")  # noqa: S108 - files in memory where there are such, for speed only


class OnDisk:
    """The record of a dialogue; written when a crash is wanted, read back by the product itself."""

    def __init__(self, talk: Talker) -> None:
        place = _MEMORY if _MEMORY.is_dir() else None
        self._home = tempfile.TemporaryDirectory(prefix="talk-", dir=place)
        scene = talk.scene
        began = talk.events[0].at
        self._job: OpenJob = open_job(
            scene.loaded(),
            talk.setting.plan.options,
            ROSTER,
            now=(began.wall, began.mono),
            engine="none",
            jobs=Path(self._home.name),
            job=JOB,
            clips=False,
            apprentices=scene.apprentices,
        )
        self._written = 0

    def crash(self, talk: Talker, torn: Event | None, cut: float) -> JobState:
        """The program dies and the record is opened again.

        Args:
            talk: the dialogue; all that happened in it is on the disk.
            torn: what was being written down when it died; never more than a part of its line.
            cut: where that line was cut, 0 to 1.

        Returns:
            The state that the record gives.
        """
        for event in talk.events[self._written :]:
            at = event.at
            self._job.keeper.append(event_kind(event), to_data(event), at.wall, at.mono)
        self._written = len(talk.events)
        journal = self._job.keeper.journal
        last = journal.last
        assert last is not None
        journal.close()  # writes nothing: it frees the lock and the file, as a kill does
        if torn is not None:
            at = torn.at
            entry = make_entry(
                last.n + 1,
                event_kind(torn),
                to_data(torn),
                wall=at.wall,
                mono=at.mono,
                prev=last.hash,
            )
            whole = entry.line()
            with (journal.folder / JOURNAL).open("ab") as file:
                file.write(whole[: 1 + int(cut * (len(whole) - 2))])
        self._job = resume_job(self._job.folder, clips=False)
        ours, theirs = talk.setting, self._job.setting
        assert theirs.plan.sha256 == ours.plan.sha256
        assert [p.step for p in theirs.plan.steps] == [p.step for p in ours.plan.steps]
        assert theirs.apprentices == ours.apprentices
        events = events_in(JOB, self._job.keeper.journal.entries)
        assert events == talk.events
        assert replay(talk.setting, events) == self._job.state
        return self._job.state

    def close(self) -> None:
        """The record is thrown away."""
        self._job.keeper.journal.close()
        self._home.cleanup()
