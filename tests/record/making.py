"""Small records for the tests, with clocks that stand where the test puts them."""

from __future__ import annotations

import shutil
from pathlib import Path

from assistant.record.clips import save_clip
from assistant.record.folder import JOURNAL, keep_checklist
from assistant.record.journal import Journal
from assistant.record.seal import seal

WALL = "2026-01-02T03:04:05.678Z"
JOB = "20260102-030405"
CHECKLIST = {"bars.yaml": b"title: Raised bars\n", "shared/battery.yaml": b"title: Battery\n"}
TONE = b"".join((40 * (n % 25)).to_bytes(2, "little", signed=True) for n in range(800))


def clock() -> tuple[str, float]:
    """A clock that has stopped."""
    return WALL, 9.0


def open_record(jobs: Path, job: str = JOB) -> Path:
    """A job with a checklist, a clip and four entries, not sealed."""
    folder = jobs / job
    with Journal.create(folder) as journal:
        covers = keep_checklist(folder, CHECKLIST)
        journal.append("opened", {"job": job, "covers": covers}, WALL, 1.0)
        journal.append("said", {"text": "Cover the tank."}, WALL, 1.5)
        clip = save_clip(folder, TONE)
        journal.append("heard", {"reply": {"clip": clip.data(), "text": "done"}}, WALL, 2.25)
        journal.append("event", {"reading": "12.4 V", "by": "Mara"}, WALL, 3.0)
    return folder


def sealed_record(jobs: Path, job: str = JOB) -> tuple[Path, str]:
    """The same job, sealed; returns folder and seal."""
    folder = open_record(jobs, job)
    with Journal.open(folder) as journal:
        return folder, seal(journal, WALL, 4.0)


def lines_of(folder: Path) -> list[bytes]:
    """The lines of a journal, newlines kept."""
    return (folder / JOURNAL).read_bytes().splitlines(keepends=True)


def write_lines(folder: Path, lines: list[bytes]) -> None:
    """Put other lines in the place of a journal's."""
    overwrite(folder / JOURNAL, b"".join(lines))


def copy_of(folder: Path, place: Path) -> Path:
    """A copy of a record in another folder, under its own name."""
    return Path(shutil.copytree(folder, place / folder.name, symlinks=True))


def overwrite(path: Path, content: bytes) -> None:
    """Put other content into a file in place, which costs no flush as emptying it first would."""
    with path.open("r+b") as file:
        file.write(content)
        file.truncate()
