"""Removing the clips of a sealed job: the note is on the disk before the first clip is gone."""

from __future__ import annotations

import os
from dataclasses import dataclass
from pathlib import Path

from assistant.errors import BadInput, JournalUnwritable, RecordDamaged
from assistant.record.audit import audit
from assistant.record.chain import Chain
from assistant.record.cover import CLIP_FILE, Tree, covers_of, look, open_plain
from assistant.record.durable import Disk, write_new
from assistant.record.entry import JSON, Entry, make_entry
from assistant.record.folder import CLIPS, JOURNAL, is_job_id, taken_ids
from assistant.record.lock import LOCKS, lock_job
from assistant.record.retention import REMOVED, RETENTION, days_since, note_message, read_notes
from assistant.record.signing import ShopKey


@dataclass(frozen=True, slots=True)
class Retained:
    """What became of one job's clips.

    Attributes:
        job: its id.
        removed: clips removed now.
        why_not: why none was touched, "" where the rule applied: open or young.
    """

    job: str
    removed: int
    why_not: str = ""


def retain(folder: Path, days: int, now: tuple[str, float], key: ShopKey | None = None) -> Retained:
    """Remove a sealed job's clips when it was sealed this many days ago, or more.

    A run that was stopped in the middle is finished by the next. Running it twice changes nothing.

    Args:
        folder: the job folder.
        days: 0 removes them now.
        now: wall time (RFC 3339) and monotonic seconds.
        key: the shop's; a signed record takes the note of its own signer only.

    Raises:
        BadInput: days below 0, or no such folder.
        JobInUse: another process has the job.
        RecordDamaged: the record doesn't verify, or is signed with another key; nothing is removed.
        JournalUnwritable: the disk refuses; what a note names and still lies there goes next time.
    """
    if days < 0:
        raise BadInput(f"{days} days are not possible: 0 or more")
    lock = lock_job(folder)
    try:
        return _retain(folder, days, now, key)
    finally:
        lock.release()


def job_folders(jobs: Path) -> list[Path]:
    """The folders of all jobs that could be looked through, by name; links are left out."""
    folders = [jobs / name for name in sorted(taken_ids(jobs)) if is_job_id(name)]
    return [f for f in folders if not f.is_symlink() and (f / JOURNAL).is_file()]


def _retain(folder: Path, days: int, now: tuple[str, float], key: ShopKey | None) -> Retained:
    found = audit(folder, folder.name)
    if not found.ok:
        raise RecordDamaged(
            f"job {folder.name} does not verify, so nothing is removed: {found.problem}"
        )
    if found.seal is None:
        return Retained(folder.name, 0, "open")
    if found.key is not None and (key is None or key.public != found.key):
        raise RecordDamaged(
            f"job {folder.name} is signed with {found.key}, and this shop's key is another or "
            "missing, so nothing is removed"
        )
    try:
        tree = look(folder)
        seal, clips = _clips(folder, tree)
        notes = read_notes(folder, tree)
        young = days_since(seal, now[0]) < days
        fresh = {} if young else {f: sha for f, sha in clips.items() if f not in notes.removed}
        if fresh:
            last = notes.entries[-1] if notes.entries else seal
            _add(folder, tree, _note(folder.name, last, fresh, days=days, now=now, key=key))
        # What an earlier note names and a stop left lying goes too, however young.
        doomed = [file for file in clips if file in fresh or file in notes.removed]
        for file in doomed:
            (folder / file).unlink()
        if doomed:
            Disk().sync_folder(folder / CLIPS)
    except OSError as error:
        raise JournalUnwritable(f"job {folder.name}: clips can't be removed: {error}") from error
    return Retained(folder.name, len(doomed), "young" if young and not doomed else "")


def _clips(folder: Path, tree: Tree) -> tuple[Entry, dict[str, str]]:
    """The closing entry, and the clips that lie in the folder with their SHA-256."""
    found: dict[str, str] = {}
    with open_plain(folder / JOURNAL) as file:
        chain = Chain(file, folder.name)
        for entry in chain:
            for cover in covers_of(entry.data):
                if CLIP_FILE.fullmatch(cover.file) and cover.file in tree.files:
                    found[cover.file] = cover.sha256
    if chain.last is None:
        raise RecordDamaged(f"job {folder.name} holds no entries")
    return chain.last, found


def _note(  # noqa: PLR0913 - the facts of a note
    job: str,
    last: Entry,
    clips: dict[str, str],
    *,
    days: int,
    now: tuple[str, float],
    key: ShopKey | None,
) -> Entry:
    files: list[JSON] = [{"file": name, "sha256": digest} for name, digest in clips.items()]
    data: dict[str, JSON] = {"days": days, "files": files}
    if key is not None:
        data["signed"] = key.sign(note_message(job, last.hash, now[0], data))
    return make_entry(last.n + 1, REMOVED, data, wall=now[0], mono=now[1], prev=last.hash)


def _add(folder: Path, tree: Tree, note: Entry) -> None:
    """Put the notes with this one in the place of the old ones, whole or not at all."""
    before = (folder / RETENTION).read_bytes() if RETENTION in tree.files else b""
    made = folder.parent / LOCKS / f"{folder.name}.notes"
    made.unlink(missing_ok=True)
    write_new(made, before + note.line())
    os.replace(made, folder / RETENTION)  # noqa: PTH105 - says that it replaces
    Disk().sync_folder(folder)
