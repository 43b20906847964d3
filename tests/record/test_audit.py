"""The audit: every change is caught, and the right entry or file is named."""

from __future__ import annotations

import hashlib
import json
import os
import tracemalloc
from collections.abc import Callable
from pathlib import Path

import jcs  # type: ignore[import-untyped] # ships no types
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput
from assistant.record.audit import Audit, audit
from assistant.record.entry import genesis, make_entry
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from tests.record.disks import unprivileged
from tests.record.making import (
    JOB,
    WALL,
    copy_of,
    lines_of,
    open_record,
    overwrite,
    sealed_record,
    write_lines,
)

_ANSWERS_FOR = {  # which entry of the small record names which file
    "checklist/bars.yaml": 0,
    "checklist/shared/battery.yaml": 0,
    "clips/000001.flac": 2,
}


def test_sealed_and_open(tmp_path: Path) -> None:
    """A whole record is ok, sealed or still open, in place and as a copy."""
    folder = open_record(tmp_path / "a")
    assert audit(folder) == Audit(True, 4, None, None, None, False, JOB)
    folder, value = sealed_record(tmp_path / "b")
    assert audit(folder) == Audit(True, 5, None, None, value, False, JOB)
    copy = copy_of(folder, tmp_path / "stick")
    assert audit(copy) == audit(folder)


def test_copy_under_another_name(tmp_path: Path) -> None:
    """A renamed copy verifies as the job it names; asked for as another job it doesn't."""
    folder, value = sealed_record(tmp_path)
    copy = copy_of(folder, tmp_path / "stick").rename(tmp_path / "stick" / "for the customer")
    found = audit(copy)
    assert (found.ok, found.seal, found.job) == (True, value, JOB)
    assert audit(copy, JOB).ok
    other = audit(copy, "20260102-030406")
    assert (other.ok, other.first_bad, other.seal) == (False, 0, None)


def test_audit_changes_nothing(tmp_path: Path) -> None:
    """An audit needs no right to write and leaves every file as it is."""
    with unprivileged() as place:
        folder, value = sealed_record(place)
        for path in (folder / JOURNAL, folder / "clips", folder):
            path.chmod(path.stat().st_mode & ~0o222)
        try:
            assert audit(folder).seal == value
        finally:
            folder.chmod(0o700)
            (folder / "clips").chmod(0o700)
    assert tmp_path.exists()


def _values(byte: int) -> set[int]:
    return {byte ^ 1, byte ^ 0x80, 0x0A, 0x20, 0x00} - {byte}


def test_every_byte_of_the_journal(tmp_path: Path) -> None:
    """Each byte of a sealed journal, changed to five other values, is caught at its entry."""
    folder, _ = sealed_record(tmp_path)
    whole, n, tried = (folder / JOURNAL).read_bytes(), 0, 0
    for at, byte in enumerate(whole):
        for value in _values(byte):
            overwrite(folder / JOURNAL, whole[:at] + bytes([value]) + whole[at + 1 :])
            found = audit(folder)
            assert (found.ok, found.first_bad, found.entries) == (False, n, n), (at, value)
            assert f"entry {n} (line {n + 1})" in str(found.problem)
            assert found.seal is None
            tried += 1
        n += byte == 0x0A
    assert tried >= 4 * len(whole)
    overwrite(folder / JOURNAL, whole)
    assert audit(folder).ok


@pytest.mark.parametrize("name", sorted(_ANSWERS_FOR))
def test_every_byte_of_the_files(name: str, tmp_path: Path) -> None:
    """Each byte of each clip and checklist copy, changed, added or dropped, is caught by name."""
    folder, _ = sealed_record(tmp_path)
    whole = (folder / name).read_bytes()
    for at, byte in enumerate(whole):
        changed = [whole[:at] + bytes([value]) + whole[at + 1 :] for value in _values(byte)]
        for content in (*changed, whole[:at] + whole[at + 1 :], whole[:at] + b"\0" + whole[at:]):
            overwrite(folder / name, content)
            found = audit(folder)
            assert (found.ok, found.first_bad) == (False, _ANSWERS_FOR[name])
            assert f"{name} was changed" in str(found.problem)
    overwrite(folder / name, whole)
    assert audit(folder).ok


def test_every_byte_dropped_or_doubled(tmp_path: Path) -> None:
    """Each byte of the journal, dropped or doubled, is caught at its entry."""
    folder, _ = sealed_record(tmp_path)
    whole, n = (folder / JOURNAL).read_bytes(), 0
    for at, byte in enumerate(whole):
        here, n = n, n + (byte == 0x0A)
        doubled_at = n if byte == 0x0A else here  # a doubled newline makes an empty next line
        for content, bad in (
            (whole[:at] + whole[at + 1 :], here),
            (whole[: at + 1] + whole[at:], doubled_at),
        ):
            overwrite(folder / JOURNAL, content)
            found = audit(folder)
            assert (found.ok, found.first_bad) == (False, bad), at


def test_every_shortening(tmp_path: Path) -> None:
    """A sealed journal cut anywhere is torn at the right entry, or shows no seal any more."""
    folder, _ = sealed_record(tmp_path)
    whole = (folder / JOURNAL).read_bytes()
    for size in range(len(whole)):
        overwrite(folder / JOURNAL, whole[:size])
        found = audit(folder)
        assert found.seal is None
        if size == 0:
            assert "holds no entries" in str(found.problem)
        elif whole[size - 1] != 0x0A:
            assert found.first_bad == whole.count(b"\n", 0, size)
            assert "torn" in str(found.problem)


@pytest.fixture(name="shared", scope="module")
def _shared(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[bytes]]:
    """One sealed record for a test that puts the whole journal in anew each time."""
    folder, _ = sealed_record(tmp_path_factory.mktemp("jobs"))
    return folder, lines_of(folder)


@settings(max_examples=150, deadline=None)
@given(drawn=st.data())
def test_lines_moved(drawn: st.DataObject, shared: tuple[Path, list[bytes]]) -> None:
    """Lines swapped, dropped, doubled or put in are caught at the first line out of place."""
    folder, lines = shared
    where = st.integers(0, len(lines) - 1)
    first, second = drawn.draw(where), drawn.draw(where)
    act = drawn.draw(st.sampled_from(["swap", "drop", "double", "insert"]))
    changed = list(lines)
    if act == "swap":
        changed[first], changed[second] = changed[second], changed[first]
    elif act == "drop":
        del changed[first]
    elif act == "double":
        changed.insert(second, lines[first])
    else:
        strange = make_entry(second, "said", {}, wall=WALL, mono=1.0, prev=genesis("other"))
        changed.insert(second, strange.line())
    write_lines(folder, changed)
    found = audit(folder)
    bad = next((n for n, line in enumerate(changed) if lines[n : n + 1] != [line]), None)
    if changed == lines:
        assert found.ok
    elif bad is None:  # only the closing line was dropped: the record is open again
        assert (found.ok, found.seal) == (True, None)
    else:
        assert (found.ok, found.first_bad) == (False, bad)


def _rechained(lines: list[bytes], n: int, changed: dict[str, object]) -> list[bytes]:
    """The journal with one entry changed and its own hash, but no other, made to fit."""
    fields = json.loads(lines[n])
    del fields["hash"]
    fields.update(changed)
    fields["hash"] = hashlib.sha256(jcs.canonicalize(fields)).hexdigest()
    return [*lines[:n], jcs.canonicalize(fields) + b"\n", *lines[n + 1 :]]


@pytest.mark.parametrize("n", range(4))
def test_entry_with_a_fitting_hash(n: int, tmp_path: Path) -> None:
    """An exchanged entry with a hash of its own breaks the link to the next entry."""
    folder, _ = sealed_record(tmp_path)
    write_lines(folder, _rechained(lines_of(folder), n, {"mono": 77.5}))
    found = audit(folder)
    assert (found.ok, found.first_bad) == (False, n + 1)
    assert f"does not follow entry {n}" in str(found.problem)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"data": {}}, "seal does not fit"),
        ({"data": {"entries": 3, "files": {"count": 3, "sha256": "0" * 64}}}, "seal does not fit"),
        ({"data": {"covers": [{"file": "/etc/passwd", "sha256": "0" * 64}]}}, "can't be a file"),
        ({"data": {"covers": [{"file": "clips/000001.flac", "sha256": "0" * 64}]}}, "another hash"),
        ({"data": {"covers": [{"file": "checklist/x", "sha256": "0"}]}}, "proper SHA-256"),
        ({"data": {"covers": [{"file": "clips/000009.flac", "sha256": "0" * 64}]}}, "is missing"),
        ({"n": 9}, "number 9 stands where 4 should be"),
        ({"prev": "0" * 64}, "does not follow entry 3"),
    ],
)
def test_crafted_seals(changed: dict[str, object], said: str, tmp_path: Path) -> None:
    """A closing entry made up with a fitting hash is still held against what is there."""
    folder, _ = sealed_record(tmp_path)
    write_lines(folder, _rechained(lines_of(folder), 4, changed))
    found = audit(folder)
    assert (found.ok, found.first_bad) == (False, 4)
    assert said in str(found.problem)


def test_entry_after_the_seal(tmp_path: Path) -> None:
    """An entry that follows the seal in a proper chain is still one too many."""
    folder, value = sealed_record(tmp_path)
    late = make_entry(5, "said", {}, wall=WALL, mono=9.0, prev=value)
    write_lines(folder, [*lines_of(folder), late.line()])
    found = audit(folder)
    assert (found.ok, found.first_bad, found.entries) == (False, 5, 5)
    assert "after the seal" in str(found.problem)


def _missing_journal(folder: Path) -> None:
    (folder / JOURNAL).unlink()


def _linked_journal(folder: Path) -> None:
    (folder / JOURNAL).symlink_to((folder / JOURNAL).rename(folder.parent / "j"))


def _folder_journal(folder: Path) -> None:
    (folder / JOURNAL).unlink()
    (folder / JOURNAL).mkdir()


def _missing_clip(folder: Path) -> None:
    (folder / "clips" / "000001.flac").unlink()


def _linked_clips(folder: Path) -> None:
    (folder / "clips").symlink_to((folder / "clips").rename(folder.parent / "c"))


def _fifo_clip(folder: Path) -> None:
    (folder / "clips" / "000001.flac").unlink()
    os.mkfifo(folder / "clips" / "000001.flac")


def _folder_clip(folder: Path) -> None:
    (folder / "clips" / "000001.flac").unlink()
    (folder / "clips" / "000001.flac").mkdir()


def _extra(name: str) -> Callable[[Path], None]:
    return lambda folder: (folder / name).touch()


@pytest.mark.parametrize(
    ("harm", "bad", "said"),
    [
        (_missing_journal, None, "journal.jsonl is missing"),
        (_linked_journal, None, "journal.jsonl is a symbolic link"),
        (_folder_journal, None, "journal.jsonl is a folder"),
        (_missing_clip, 2, "clips/000001.flac is missing"),
        (_linked_clips, 2, "clips/000001.flac is missing"),
        (_fifo_clip, 2, "clips/000001.flac is not a plain file"),
        (_folder_clip, 2, "clips/000001.flac is missing"),
        (_extra("notes.txt"), None, "'notes.txt' is not part of the record"),
        (_extra("clips/000002.flac"), None, "'clips/000002.flac' is not part of the record"),
        (_extra("checklist/shared/.x"), None, "'checklist/shared/.x' is not part of the record"),
        (lambda f: (f / "clips" / "more").mkdir(), None, "folder 'clips/more' is not part"),
        (lambda f: (f / "link").symlink_to("/etc"), None, "'link' is a symbolic link"),
        (_extra("a\x1b[2J\nb"), None, "'a\\x1b[2J\\nb' is not part of the record"),
        (_extra("a\udcff"), None, "'a\\udcff' is not part of the record"),
    ],
)
def test_files_that_should_not_be(
    harm: Callable[[Path], object], bad: int | None, said: str, tmp_path: Path
) -> None:
    """A file that is missing, extra, a link or no plain file is told, printably."""
    folder, _ = sealed_record(tmp_path)
    harm(folder)
    found = audit(folder)
    assert (found.ok, found.first_bad, found.seal) == (False, bad, None)
    assert said in str(found.problem)
    assert str(found.problem).isprintable()


def test_unreadable_clip() -> None:
    """A clip that may not be read is a problem, not a crash."""
    with unprivileged() as place:
        folder, _ = sealed_record(place)
        (folder / "clips" / "000001.flac").chmod(0)
        found = audit(folder)
        assert not found.ok
        assert "can't be read" in str(found.problem)


@pytest.mark.parametrize(
    "line",
    [b"[" * 900_000 + b"\n", b"x" * 3_000_000, b'{"a":' * 100_000 + b"\n", b"\x00" * 100 + b"\n"],
)
def test_hostile_lines(line: bytes, tmp_path: Path) -> None:
    """Lines made to exhaust a reader are refused at their place."""
    folder = open_record(tmp_path)
    write_lines(folder, [*lines_of(folder), line])
    found = audit(folder)
    assert (found.ok, found.first_bad) == (False, 4)


def test_no_record(tmp_path: Path) -> None:
    """A folder that isn't there is bad input, not a damaged record."""
    with pytest.raises(BadInput):
        audit(tmp_path / "none")


def _write_many(folder: Path, count: int) -> None:
    """A journal of so many entries, written in one go."""
    with Journal.create(folder):
        pass
    prev = genesis(folder.name)
    with (folder / JOURNAL).open("wb") as file:
        for n in range(count):
            entry = make_entry(n, "said", {"text": "next"}, wall=WALL, mono=n / 4, prev=prev)
            file.write(entry.line())
            prev = entry.hash


def test_constant_memory(tmp_path: Path) -> None:
    """Auditing ten times the entries takes no more memory."""
    peaks = []
    for count in (200, 2000):
        folder = tmp_path / str(count)
        _write_many(folder, count)
        tracemalloc.start()
        assert audit(folder).entries == count
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < peaks[0] * 1.2
