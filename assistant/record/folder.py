"""Where jobs lie, and what a job folder may be called and hold.

<jobs>/<job id>/journal.jsonl       one entry a line
<jobs>/<job id>/clips/000001.flac   what was heard
<jobs>/<job id>/checklist/...       exact copies of the checklist and its shared sections
<jobs>/.locks/<job id>.lock         who is on the job
"""

from __future__ import annotations

import hashlib
import os
import re
import unicodedata
from collections.abc import Container, Mapping
from pathlib import Path

from platformdirs import user_data_path

from assistant.errors import BadInput, JournalUnwritable
from assistant.record.durable import Disk, write_new

JOURNAL = "journal.jsonl"
CLIPS = "clips"
CHECKLIST = "checklist"
HOME_VARIABLE = "GLOVESON_HOME"

_JOB = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)
_LONGEST_JOB = 64
_WALL = re.compile(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(\d\d):(\d\d)", re.ASCII)
# Letters of any script, digits, space, dot, hyphen; no leading dot, no trailing dot or space.
_NAME = re.compile(r"[^\W_](?:[\w .-]{0,98}[\w-])?")
# Names that Windows keeps for devices, from memory.
_DEVICE = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.ASCII | re.IGNORECASE)
_DEEPEST = 4


def jobs_home() -> Path:
    """The folder of all jobs: $GLOVESON_HOME/jobs, else under the user's data folder."""
    set_by_hand = os.environ.get(HOME_VARIABLE, "").strip()
    home = Path(set_by_hand) if set_by_hand else user_data_path("gloveson", appauthor=False)
    return home.expanduser().absolute() / "jobs"


def is_job_id(text: str) -> bool:
    """Whether this may name a job: small letters, digits, single hyphens, no device name."""
    return (
        len(text) <= _LONGEST_JOB
        and _JOB.fullmatch(text) is not None
        and _DEVICE.fullmatch(text) is None
    )


def new_job_id(wall: str, taken: Container[str]) -> str:
    """An id from the time the job opens, for example 20260102-030405, or ...-2 if that is taken.

    Args:
        wall: RFC 3339 time in UTC.
        taken: ids already in use.

    Raises:
        BadInput: the time isn't RFC 3339.
    """
    found = _WALL.match(wall)
    if found is None:
        raise BadInput(f"{wall!r} is not a time like 2026-01-02T03:04:05.678Z")
    year, month, day, hour, minute, second = found.groups()
    first = f"{year}{month}{day}-{hour}{minute}{second}"
    name, turn = first, 1
    while name in taken:
        turn += 1
        name = f"{first}-{turn}"
    return name


def taken_ids(jobs: Path) -> frozenset[str]:
    """Names in use in a folder of jobs; empty when the folder isn't there yet."""
    try:
        return frozenset(found.name for found in jobs.iterdir())
    except FileNotFoundError:
        return frozenset()


def find_job(name_or_path: str, jobs: Path | None = None) -> Path:
    """The folder of a job, by its id or by the path of a record folder or a copy of one.

    A bare id is looked for among the jobs only; anything else must be the path of a real folder
    that holds a journal.

    Raises:
        BadInput: no such job, or a name that isn't one (a trick with dots, links, control
            characters); nothing was opened.
    """
    text = name_or_path
    if not text or not text.isprintable():
        raise BadInput(f"{text!r} is not the name of a job or of a record folder")
    if is_job_id(text):
        folder = (jobs or jobs_home()) / text
        if folder.is_symlink():
            raise BadInput(f"job {text} is a symbolic link, not a job folder: {folder}")
        if not _holds_journal(folder):
            raise BadInput(f"there is no job {text} in {folder.parent}")
        return folder
    folder = Path(text)
    if not _holds_journal(folder):
        raise BadInput(
            f"{text!r} is neither the id of a job (like 20260102-030405) nor a record folder "
            f"with a {JOURNAL} in it"
        )
    return folder.resolve()


def safe_name(name: str) -> bool:
    """Whether a relative name, parts divided by /, may lie in a record folder on any system."""
    parts = name.split("/")
    return (
        len(parts) <= _DEEPEST
        and unicodedata.is_normalized("NFC", name)
        and all(_NAME.fullmatch(part) and not _DEVICE.fullmatch(part) for part in parts)
    )


def make_folder(folder: Path, disk: Disk) -> None:
    """Make an empty job folder with its two inner folders, durably.

    Raises:
        BadInput: there is such a folder with something in it.
        OSError: the system refuses.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    folder.mkdir(exist_ok=True)
    if any(found.name not in (CLIPS, CHECKLIST) for found in folder.iterdir()):
        raise BadInput(
            f"{folder} is there already and is not empty; a job is never overwritten: "
            "choose another id"
        )
    for inner in (CLIPS, CHECKLIST):
        (folder / inner).mkdir(exist_ok=True)
    disk.sync_folder(folder)
    disk.sync_folder(folder.parent)


def keep_checklist(folder: Path, files: Mapping[str, bytes]) -> list[dict[str, str]]:
    """Copy the checklist and its shared sections, byte for byte, into the record.

    Args:
        folder: the job folder.
        files: content by relative name, for example "bars.yaml" and "shared/battery.yaml".

    Returns:
        What the caller puts into an entry under the key `covers`, so that audit covers the copies
        from then on: [{"file": "checklist/bars.yaml", "sha256": "..."}], sorted by name.

    Raises:
        BadInput: a name that can't lie in a record, or a copy that is already there.
        JournalUnwritable: the system refuses; the job must not begin.
    """
    kept = []
    for name, content in sorted(files.items()):
        if not safe_name(name):
            raise BadInput(f"{name!r} can't be the name of a file in a record: use plain letters")
        path = folder / CHECKLIST / name
        try:
            _keep(folder, path, content)
        except OSError as error:
            raise JournalUnwritable(f"{path} could not be kept: {error}") from error
        digest = hashlib.sha256(content).hexdigest()
        kept.append({"file": f"{CHECKLIST}/{name}", "sha256": digest})
    return kept


def _keep(folder: Path, path: Path, content: bytes) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    try:
        write_new(path, content)
    except FileExistsError as error:
        raise BadInput(f"{path} is there already; a record is never overwritten") from error
    for above in path.parents:  # the folders on the way may be new too
        Disk().sync_folder(above)
        if above == folder:
            break


def _holds_journal(folder: Path) -> bool:
    journal = folder / JOURNAL
    try:
        return journal.is_file() and not journal.is_symlink()
    except OSError:
        return False
