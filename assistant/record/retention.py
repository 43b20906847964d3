"""Replies' sound removed after a time, with a note beside the record that tells so.

The notes are entries that go on after the seal, in a file of their own: the first follows the
seal's hash, each the one before. The journal stays as it is, with the hash of every clip that was
removed, so a clip without a note is missing, and one with a note is removed. Where the seal is
signed, each note must be signed with the same key; where it isn't, the notes are hashes alone and
show no more than hashes can.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path

from assistant.errors import RecordDamaged
from assistant.record.cover import CLIP_FILE, Tree, open_plain
from assistant.record.entry import JSON, Entry, NotAnEntry, canonical, is_digest, parse_line
from assistant.record.signing import signer

RETENTION = "retention.jsonl"
REMOVED = "removed"
_DOMAIN = "gloves-on retention 1"
_LARGEST = 1 << 24
_MOST_DAYS = 36_525
"""A hundred years; our choice."""


@dataclass(frozen=True, slots=True)
class Removal:
    """A clip that was removed by a rule.

    Attributes:
        file: the clip's name inside the record.
        sha256: of its bytes, as the journal holds it.
        wall: when it was removed, RFC 3339 in UTC.
        days: the rule: so many days after the seal at the earliest.
    """

    file: str
    sha256: str
    wall: str
    days: int


@dataclass(frozen=True, slots=True)
class Notes:
    """All notes of a record: what they say, not yet held against its journal.

    Attributes:
        entries: the lines, in order.
        removed: clip's name -> its removal.
    """

    entries: tuple[Entry, ...] = ()
    removed: Mapping[str, Removal] = field(default_factory=dict)

    def explains(self, file: str, sha256: str) -> bool:
        """Whether a note says that this very clip was removed."""
        found = self.removed.get(file)
        return found is not None and found.sha256 == sha256

    def verify(
        self, job: str, seal: Entry | None, key: str | None, covered: Mapping[str, str]
    ) -> None:
        """Hold the notes against the record that they lie beside.

        Args:
            job: its id.
            seal: its closing entry, None when it is open.
            key: public key that signed the seal, None when it isn't signed.
            covered: every file of the record with its SHA-256.

        Raises:
            RecordDamaged: a note doesn't follow the seal, isn't signed as the seal is, came
                sooner than its rule allows, or names a clip that the record never had.
        """
        last = seal
        for entry in self.entries:
            if seal is None or last is None:
                raise _wrong("the record is not sealed, so nothing may be removed from it yet")
            if entry.prev != last.hash or entry.n != last.n + 1:
                raise _wrong(f"note {entry.n} does not follow what stands before it")
            if _moment(entry) - _moment(seal) < timedelta(days=_days(entry)):
                raise _wrong(f"note {entry.n} came sooner after the seal than its rule allows")
            try:
                found = signer(entry.data, note_message(job, entry.prev, entry.wall, entry.data))
            except ValueError as error:
                raise _wrong(f"note {entry.n}: {error}") from error
            if key is not None and found != key:
                raise _wrong(f"note {entry.n} is not signed with the key that signed the record")
            last = entry
        for removal in self.removed.values():
            if covered.get(removal.file) != removal.sha256:
                raise _wrong(f"{removal.file} is said to be removed and was never in the record")


def read_notes(folder: Path, tree: Tree) -> Notes:
    """The notes in a record folder; none where the file isn't there.

    Raises:
        RecordDamaged: a line is no note, or was changed.
        OSError: the file can't be read.
    """
    if RETENTION not in tree.files:
        return Notes()
    with open_plain(folder / RETENTION) as file:
        content = file.read(_LARGEST + 1)
    if not content or len(content) > _LARGEST:
        raise _wrong(f"{len(content)} bytes can't be notes")
    entries, removed = [], {}
    for number, line in enumerate(content.splitlines(keepends=True), 1):
        try:
            entry = parse_line(line)
            found = _removals(entry)
        except NotAnEntry as error:
            raise _wrong(f"line {number}: {error}") from error
        for removal in found:
            if removal.file in removed:
                raise _wrong(f"line {number}: {removal.file} is removed twice")
            removed[removal.file] = removal
        entries.append(entry)
    return Notes(tuple(entries), removed)


def note_message(job: str, prev: str, wall: str, data: Mapping[str, JSON]) -> bytes:
    """What a note's signature is over: the job, what the note follows, when, and what it says."""
    said = {name: value for name, value in data.items() if name != "signed"}
    return canonical({"what": _DOMAIN, "job": job, "prev": prev, "wall": wall, "said": said})


def days_since(seal: Entry, wall: str) -> float:
    """Days between the seal and a time, by the wall clock."""
    return (datetime.fromisoformat(wall) - _moment(seal)) / timedelta(days=1)


def _removals(entry: Entry) -> list[Removal]:
    files = entry.data.get("files")
    if entry.kind != REMOVED or not isinstance(files, list) or not files:
        raise NotAnEntry("it is no note of clips removed")
    days = _days(entry)
    found = []
    for item in files:
        if not isinstance(item, dict) or item.keys() != {"file", "sha256"}:
            raise NotAnEntry("it names a clip without file and SHA-256")
        file, sha256 = item["file"], item["sha256"]
        if not isinstance(file, str) or CLIP_FILE.fullmatch(file) is None:
            raise NotAnEntry(f"it names {file!r}, which is no clip")
        if not isinstance(sha256, str) or not is_digest(sha256):
            raise NotAnEntry(f"it names {file} without a proper SHA-256")
        found.append(Removal(file, sha256, entry.wall, days))
    return found


def _days(entry: Entry) -> int:
    days = entry.data.get("days")
    if isinstance(days, bool) or not isinstance(days, int) or not 0 <= days <= _MOST_DAYS:
        raise NotAnEntry("its rule is no number of days")
    return days


def _moment(entry: Entry) -> datetime:
    return datetime.fromisoformat(entry.wall)


def _wrong(problem: str) -> RecordDamaged:
    return RecordDamaged(f"{RETENTION}: {problem}")
