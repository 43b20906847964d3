"""The seal: over every file, once, and only over a record that is whole."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.errors import BadInput, JournalUnwritable, RecordDamaged, RecordSealed
from assistant.record.audit import audit
from assistant.record.clips import save_clip
from assistant.record.folder import keep_checklist
from assistant.record.journal import Journal
from assistant.record.seal import fingerprint, seal
from tests.record.disks import FailingDisk, unprivileged
from tests.record.making import JOB, TONE, WALL, open_record, sealed_record


def test_seal_is_the_last_hash(tmp_path: Path) -> None:
    """The seal is the hash of the closing entry, and audit finds the same."""
    folder, value = sealed_record(tmp_path)
    found = audit(folder)
    assert (found.ok, found.seal, found.entries, found.signed) == (True, value, 5, False)


def test_what_the_seal_holds(tmp_path: Path) -> None:
    """It counts the entries, and hashes the sorted list of files as sha256sum would print it."""
    folder, _ = sealed_record(tmp_path)
    files = ["checklist/bars.yaml", "checklist/shared/battery.yaml", "clips/000001.flac"]
    listed = "".join(
        f"{hashlib.sha256((folder / name).read_bytes()).hexdigest()}  {name}\n" for name in files
    )
    with Journal.open(folder) as journal:
        assert journal.last is not None
        assert journal.last.kind == "sealed"
        assert journal.last.data == {
            "covers": [],
            "entries": 4,
            "files": {"count": 3, "sha256": hashlib.sha256(listed.encode()).hexdigest()},
        }


def test_seal_covers_what_no_entry_named(tmp_path: Path) -> None:
    """Clips and copies that no entry named are listed in the seal itself, so audit covers them."""
    folder = tmp_path / JOB
    with Journal.create(folder) as journal:
        journal.append("opened", {}, WALL, 1.0)
        keep_checklist(folder, {"bars.yaml": b"a: 1\n"})
        save_clip(folder, TONE)
        seal(journal, WALL, 2.0)
    assert audit(folder).ok
    (folder / "checklist" / "bars.yaml").write_bytes(b"a: 2\n")
    found = audit(folder)
    assert (found.ok, found.first_bad) == (False, 1)
    assert "checklist/bars.yaml was changed" in str(found.problem)


def test_sealed_once(tmp_path: Path) -> None:
    """A record is sealed once."""
    folder, _ = sealed_record(tmp_path)
    with Journal.open(folder) as journal, pytest.raises(RecordSealed):
        seal(journal, WALL, 5.0)


def _change_clip(folder: Path) -> None:
    (folder / "clips" / "000001.flac").write_bytes(b"other")


def _drop_copy(folder: Path) -> None:
    (folder / "checklist" / "bars.yaml").unlink()


def _link_clip(folder: Path) -> None:
    clip = folder / "clips" / "000001.flac"
    clip.symlink_to(clip.rename(folder.parent / "elsewhere.flac"))


def _add_file(folder: Path) -> None:
    (folder / "clips" / "notes.txt").touch()


def _add_hidden(folder: Path) -> None:
    (folder / "checklist" / ".bars.yaml.swp").touch()


def _add_folder(folder: Path) -> None:
    (folder / "more").mkdir()


@pytest.mark.parametrize(
    ("harm", "said"),
    [
        (_change_clip, "clips/000001.flac was changed"),
        (_drop_copy, "checklist/bars.yaml is missing"),
        (_link_clip, "clips/000001.flac is a symbolic link"),
        (_add_file, "'clips/notes.txt' is not part of the record"),
        (_add_hidden, "'checklist/.bars.yaml.swp' is not part of the record"),
        (_add_folder, "folder 'more' is not part of the record"),
    ],
)
def test_a_record_that_is_not_whole(
    harm: Callable[[Path], None], said: str, tmp_path: Path
) -> None:
    """A record with something changed, missing or added isn't sealed, and stays open."""
    folder = open_record(tmp_path)
    harm(folder)
    with Journal.open(folder) as journal:
        with pytest.raises(RecordDamaged, match=said.replace(".", r"\.")):
            seal(journal, WALL, 4.0)
        assert not journal.sealed


def test_seal_on_a_disk_that_cannot_be_read() -> None:
    """A disk that can't be read is no damaged record: once it is back, the seal is given."""
    with unprivileged() as place:
        folder = open_record(place)
        with Journal.open(folder) as journal:
            (folder / "clips").chmod(0)
            with pytest.raises(JournalUnwritable, match="not sealed"):
                seal(journal, WALL, 4.0)
            (folder / "clips").chmod(0o700)
            value = seal(journal, WALL, 4.0)
        assert audit(folder).seal == value


def test_seal_on_a_full_disk(tmp_path: Path) -> None:
    """A seal that can't be written isn't given; after retry it is."""
    disk, folder = FailingDisk(), open_record(tmp_path)
    with Journal.open(folder, disk=disk) as journal:
        disk.room = 30
        with pytest.raises(JournalUnwritable):
            seal(journal, WALL, 4.0)
        assert not journal.sealed
        disk.room = None
        journal.retry()
        value = seal(journal, WALL, 4.0)
    assert audit(folder).seal == value


def test_fingerprint() -> None:
    """The fingerprint is the first 8 bytes in four groups, easy to read out."""
    assert fingerprint("3f2a9c0177de0b45" + "0" * 48) == "3f2a 9c01 77de 0b45"


@pytest.mark.parametrize("text", ["", "3f2a", "g" * 64, "A" * 64, "0" * 65])
def test_no_fingerprint(text: str) -> None:
    """What isn't a seal has no fingerprint."""
    with pytest.raises(BadInput):
        fingerprint(text)
