"""The keeper: a job's journal and clips as the bay uses them, and the header they begin with."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple

import pytest

from assistant.errors import JournalUnwritable, RecordDamaged
from assistant.job.events import Clip, Event, Heard, Opened, Stamp, Tick, Unclear
from assistant.job.serial import event_kind, to_data
from assistant.language.intent import Intent
from assistant.ports import Keeper
from assistant.record.audit import audit
from assistant.record.clips import read_clip
from assistant.record.entry import Entry
from assistant.record.journal import Journal
from assistant.record.keeper import Header, RecordKeeper, copies_folder, events_in, header_in
from assistant.record.reading import read_entries
from assistant.testing import ScriptedKeeper
from tests.record.disks import FailingDisk
from tests.record.making import CHECKLIST, JOB, TONE, WALL

HEADER = Header(
    program="0.1.0",
    language="en",
    main="bars.yaml",
    checklist="bars",
    version="1.0.0",
    sha256="0" * 64,
    options={"abs": True, "grips": "heated"},
    stops_sha256="1" * 64,
    roster={"mara": "Mara"},
    engine="keys",
    learned={"bars-off": 7.5},
)
AT = Stamp(WALL, 12.5, 42)
CLIP = Clip("clips/000001.flac", "2" * 64, 1.5)
EVENTS: list[Event] = [
    Opened(AT, JOB, "WREN 7", "mara", None),
    Heard(
        AT, Intent("affirm", (), "affirm"), "voice", 0.87, Clip("clips/000001.flac", "2" * 64, 1)
    ),
    Heard(AT, Intent("reading", (("number", "12.4"), ("unit", "V")), "reading"), "typed"),
    Unclear(AT, "a from"),
    Tick(AT),
]


def _begun(jobs: Path, disk: FailingDisk | None = None) -> RecordKeeper:
    keeper = RecordKeeper(Journal.create(jobs / JOB, disk=disk))
    keeper.begin(HEADER, CHECKLIST, WALL, 1.0)
    return keeper


def test_a_header_comes_back_as_it_was(tmp_path: Path) -> None:
    """What is fixed when a job begins is read back from its first entry."""
    keeper = _begun(tmp_path)
    assert header_in(JOB, keeper.journal.entries) == HEADER
    keeper.journal.close()


def test_the_checklist_is_copied_and_covered(tmp_path: Path) -> None:
    """The record holds its own copies of the checklist's files, and the audit covers them."""
    keeper = _begun(tmp_path)
    keeper.journal.close()
    copies = copies_folder(tmp_path / JOB)
    assert {name: (copies / name).read_bytes() for name in CHECKLIST} == CHECKLIST
    assert audit(tmp_path / JOB).ok
    (copies / "bars.yaml").write_bytes(b"title: Other bars\n")
    assert "checklist/bars.yaml" in str(audit(tmp_path / JOB).problem)


def test_events_come_back_for_replay(tmp_path: Path) -> None:
    """Events written by the keeper are the same when the record is read; other entries are not."""
    keeper = _begun(tmp_path)
    for event in EVENTS:
        keeper.append(event_kind(event), to_data(event), WALL, 12.5)
        keeper.append("said", {"lines": ["Logged."]}, WALL, 12.6)
    keeper.journal.close()
    assert events_in(JOB, read_entries(tmp_path / JOB)) == EVENTS


def test_a_clip_is_kept_unless_clips_are_off(tmp_path: Path) -> None:
    """Speech becomes a FLAC file with its hash; with clips switched off, or silent, nothing."""
    with Journal.create(tmp_path / JOB) as journal:
        kept = RecordKeeper(journal).keep_clip(TONE)
        assert kept is not None
        assert read_clip(tmp_path / JOB, kept.file) == TONE
        assert RecordKeeper(journal).keep_clip(b"") is None
        assert RecordKeeper(journal, clips=False).keep_clip(TONE) is None
        assert len(list((tmp_path / JOB / "clips").iterdir())) == 1


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (lambda _data: None, "has no header"),
        (lambda data: {**data, "roster": None}, ""),
        (lambda data: {k: v for k, v in data.items() if k != "main"}, "main"),
    ],
)
def test_a_record_without_a_whole_header_is_damaged(
    change: Callable[[dict[str, object]], dict[str, object] | None], said: str
) -> None:
    """A missing or partial header is told, with what it lacks; further keys are no harm."""
    data: dict[str, object] = {name: getattr(HEADER, name) for name in Header.__slots__}
    changed = change({**data, "of a later program": 1})
    entries = [Entry(0, "job", WALL, 1.0, changed, "", "")] if changed is not None else []  # type: ignore[arg-type] # plain JSON
    if not said:
        assert header_in(JOB, entries).main == "bars.yaml"
        return
    with pytest.raises(RecordDamaged, match=said):
        header_in(JOB, entries)


def test_an_entry_that_is_no_event_is_named() -> None:
    """An event with missing data names its entry, so that the reader finds it."""
    bad = Entry(7, "heard", WALL, 1.0, {"fresh": 42}, "", "")
    with pytest.raises(RecordDamaged, match="entry 7") as problem:
        events_in(JOB, [bad])
    assert problem.value.entry == 7


# The contract of the port, for the real keeper and the scripted one alike.


class Kept(NamedTuple):
    """A keeper and the switch that makes its disk refuse."""

    keeper: Keeper
    fail: Callable[[bool], None]


@pytest.fixture(params=["real", "scripted"])
def kept(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Kept]:
    """Each kind of keeper, begun."""
    if request.param == "scripted":
        scripted = ScriptedKeeper()

        def refuse(failing: bool) -> None:
            scripted.failure = "full" if failing else ""

        yield Kept(scripted, refuse)
        return
    disk = FailingDisk()
    keeper = _begun(tmp_path, disk)

    def fail(failing: bool) -> None:
        disk.room = 10 if failing else None

    yield Kept(keeper, fail)
    keeper.journal.close()


def test_contract_of_writing(kept: Kept) -> None:
    """A keeper takes entries and clips, and its seal is 64 hex digits."""
    kept.keeper.append("said", {"lines": ["Logged."]}, WALL, 2.0)
    clip = kept.keeper.keep_clip(TONE)
    assert clip is not None
    assert clip.file == "clips/000001.flac"
    assert clip.seconds == pytest.approx(len(TONE) / 32_000)
    assert kept.keeper.keep_clip(b"") is None
    assert len(kept.keeper.seal(WALL, 3.0)) == 64


def test_contract_of_a_full_disk(kept: Kept) -> None:
    """After a failed write nothing is taken until `retry` has found the disk well again."""
    kept.fail(True)
    with pytest.raises(JournalUnwritable):
        kept.keeper.append("said", {"lines": ["Logged."]}, WALL, 2.0)
    kept.fail(False)
    with pytest.raises(JournalUnwritable):
        kept.keeper.append("said", {"lines": ["Logged."]}, WALL, 2.0)
    kept.keeper.retry()
    kept.keeper.append("said", {"lines": ["Logged."]}, WALL, 2.0)
    kept.keeper.seal(WALL, 3.0)


def test_contract_of_a_full_disk_for_sound(kept: Kept) -> None:
    """After sound was refused, `retry` says that writing works only where sound can be saved."""
    kept.fail(True)
    with pytest.raises(JournalUnwritable):
        kept.keeper.keep_clip(TONE)
    for _ in range(2):
        with pytest.raises(JournalUnwritable):
            kept.keeper.retry()
    kept.fail(False)
    kept.keeper.retry()
    clip = kept.keeper.keep_clip(TONE)
    assert clip is not None
    assert clip.file == "clips/000001.flac"  # nothing that was only tried stays
    kept.keeper.seal(WALL, 3.0)


def test_sound_is_tried_where_sound_is_kept(tmp_path: Path) -> None:
    """The journal may be well while the folder of clips is gone."""
    keeper, clips = _begun(tmp_path), tmp_path / JOB / "clips"
    clips.rename(tmp_path / "away")
    with pytest.raises(JournalUnwritable, match="no clip is saved"):
        keeper.keep_clip(TONE)
    with pytest.raises(JournalUnwritable, match="no clip is saved"):
        keeper.retry()
    (tmp_path / "away").rename(clips)
    keeper.retry()
    assert list(clips.iterdir()) == []
    keeper.journal.close()
