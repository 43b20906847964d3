"""Opening a job and taking one up again from its record alone."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from assistant import packaged, shelf
from assistant.accounts import account_of, account_text
from assistant.checklist.loader import Loaded
from assistant.errors import BadInput, JobInUse, RecordDamaged
from assistant.job.events import Event, Heard, Opened, Stamp
from assistant.job.machine import replay
from assistant.job.serial import event_kind, to_data
from assistant.job.state import JobState, Mode
from assistant.job.table import ALARMS
from assistant.language.intent import Intent
from assistant.opening import OpenJob, changed_since, open_job, resume_job
from assistant.record.audit import audit
from assistant.record.keeper import KEPT, header_in
from assistant.record.reading import read_entries

NOW = ("2026-03-02T10:00:00.000Z", 5.0)
ROSTER = {"mara": "Mara", "ines": "Ines"}


def _loaded(name: str = "clutch-cable-adjustment") -> Loaded:
    return shelf.load_checklist(shelf.find_checklist(name))


def _open(jobs: Path, job: str | None = "one", loaded: Loaded | None = None) -> OpenJob:
    return open_job(loaded or _loaded(), {}, ROSTER, now=NOW, engine="keys", jobs=jobs, job=job)


def _happens(job: OpenJob, *events: Event) -> JobState:
    for event in events:
        job.keeper.append(event_kind(event), to_data(event), event.at.wall, event.at.mono)
    return replay(job.setting, events)


def _begin(job: OpenJob) -> JobState:
    at = Stamp(*NOW, 42)
    return _happens(
        job, Opened(at, "one", "WREN 7", "mara"), Heard(at, Intent("affirm", (), "affirm"))
    )


def _close(job: OpenJob) -> None:
    job.keeper.journal.close()


def test_a_new_job_is_on_the_disk_before_anything_happens(tmp_path: Path) -> None:
    """When a job is open its record has a header, the checklist's copies, and verifies."""
    job = _open(tmp_path)
    try:
        assert job.folder == tmp_path / "one"
        assert job.state == JobState()
        assert audit(job.folder).ok
        header = header_in("one", job.keeper.journal.entries)
        assert header == job.header
        assert header.sha256 == _loaded().sha256
        assert header.stops_sha256 == packaged.stop_texts("en").sha256
        assert header.roster == ROSTER
        copies = {p.relative_to(job.folder / "checklist").as_posix() for p in _files(job.folder)}
        assert copies == {source.name for source in _loaded().sources}
    finally:
        _close(job)


def _files(folder: Path) -> list[Path]:
    return [path for path in (folder / "checklist").rglob("*") if path.is_file()]


def test_an_id_is_made_from_the_time(tmp_path: Path) -> None:
    """Without an id the job is called by its time; two in one second differ."""
    first, second = _open(tmp_path, None), _open(tmp_path, None)
    assert (first.folder.name, second.folder.name) == ("20260302-100000", "20260302-100000-2")
    _close(first)
    _close(second)


@pytest.mark.parametrize("job", ["../one", "a/b", "", "One", "con", "-one", "one ", "x" * 65])
def test_a_bad_id_makes_nothing(job: str, tmp_path: Path) -> None:
    """What can't be the id of a job is refused, and nothing is made anywhere."""
    jobs = tmp_path / "deep" / "jobs"
    with pytest.raises(BadInput, match="id of a job"):
        _open(jobs, job)
    assert list(tmp_path.rglob("*")) == []


def test_a_job_is_never_opened_twice(tmp_path: Path) -> None:
    """An id in use is refused, whether the job is under way or not."""
    job = _open(tmp_path)
    with pytest.raises(BadInput):
        _open(tmp_path)
    _close(job)
    with pytest.raises(BadInput):
        _open(tmp_path)


def test_a_job_is_taken_up_where_it_was(tmp_path: Path) -> None:
    """The state after taking up is the replay of the record, with the same setting."""
    job = _open(tmp_path)
    state = _begin(job)
    assert state.mode is Mode.STEP
    _close(job)
    again = resume_job(tmp_path / "one")
    assert again.state == state
    assert again.setting.plan.sha256 == job.setting.plan.sha256
    assert [p.step for p in again.setting.plan.steps] == [p.step for p in job.setting.plan.steps]
    assert again.setting.roster == job.setting.roster
    assert again.header == job.header
    _close(again)


def test_what_was_learned_stays_with_the_job(tmp_path: Path) -> None:
    """Taken up again, a job expects the times that it began with, whatever was learned since."""
    learned = {"free-play-found": 7.0, "cable-look": 2.5}
    job = open_job(
        _loaded(), {}, ROSTER, now=NOW, engine="keys", jobs=tmp_path, job="one", learned=learned
    )
    assert job.setting.learned == learned
    _begin(job)
    _close(job)
    again = resume_job(tmp_path / "one")
    assert again.setting.learned == learned
    assert again.header == job.header
    _close(again)


def test_a_job_goes_by_its_own_copy_of_the_checklist(tmp_path: Path) -> None:
    """What became of the checklist's files since makes no difference to a job under way."""
    shelf_folder = tmp_path / "checklists"
    shutil.copytree(shelf.checklists_folder(), shelf_folder)
    job = _open(
        tmp_path, "one", shelf.load_checklist(shelf_folder / "clutch-cable-adjustment.yaml")
    )
    state = _begin(job)
    _close(job)
    shutil.rmtree(shelf_folder)
    again = resume_job(tmp_path / "one")
    assert again.state == state
    _close(again)


def test_only_one_process_holds_a_job(tmp_path: Path) -> None:
    """A job that somebody works on can't be taken up by another."""
    job = _open(tmp_path)
    _begin(job)
    with pytest.raises(JobInUse):
        resume_job(tmp_path / "one")
    _close(job)


def test_a_refused_job_is_let_go(tmp_path: Path) -> None:
    """A job that can't be taken up is not left locked."""
    job = _open(tmp_path)
    _close(job)
    for _ in range(2):
        with pytest.raises(BadInput, match="never begun"):
            resume_job(tmp_path / "one")


def test_a_sealed_job_is_closed_for_good(tmp_path: Path) -> None:
    """Nothing can be added to a sealed record."""
    job = _open(tmp_path)
    _begin(job)
    job.keeper.seal(*NOW)
    _close(job)
    with pytest.raises(BadInput, match="sealed"):
        resume_job(tmp_path / "one")


def test_a_changed_copy_is_not_worked_by(tmp_path: Path) -> None:
    """A record whose checklist was changed, or is gone, is damaged, and no job goes on with it."""
    job = _open(tmp_path)
    _begin(job)
    _close(job)
    copy = tmp_path / "one" / "checklist" / "clutch-cable-adjustment.yaml"
    text = copy.read_text(encoding="utf-8")
    copy.write_text(text.replace('at_most: "3 mm"', 'at_most: "9 mm"'), encoding="utf-8")
    with pytest.raises(RecordDamaged, match="not the one"):
        resume_job(tmp_path / "one")
    copy.unlink()
    with pytest.raises(RecordDamaged, match="can't be read"):
        resume_job(tmp_path / "one")


def test_only_the_roster_takes_over(tmp_path: Path) -> None:
    """A stranger is refused, and the message names who may."""
    job = _open(tmp_path)
    job.refuse_stranger("ines")
    with pytest.raises(BadInput, match="mara, ines"):
        job.refuse_stranger("zoe")
    _close(job)


def test_alarms_have_names(tmp_path: Path) -> None:
    """An alarm is kept as a trouble, and is called by the phrase that raised it."""
    job = _open(tmp_path)
    _close(job)
    for alarm in ALARMS:
        assert job.setting.name("trouble", alarm) == job.words.book.taught(alarm)


def test_an_edit_in_the_middle_of_a_job_is_found_and_changes_nothing(tmp_path: Path) -> None:
    """The edited file is told from what the job began with; the job keeps its own copy."""
    shelf_folder = tmp_path / "checklists"
    shutil.copytree(shelf.checklists_folder(), shelf_folder)
    file = shelf_folder / "clutch-cable-adjustment.yaml"
    job = _open(tmp_path, "one", shelf.load_checklist(file))
    state = _begin(job)
    _close(job)
    again = resume_job(tmp_path / "one")
    assert not changed_since(again.header)
    _close(again)
    file.write_text(file.read_text(encoding="utf-8").replace("minutes: 2", "minutes: 3"))
    again = resume_job(tmp_path / "one")
    assert changed_since(again.header)
    assert again.state == state
    _close(again)
    file.write_text("no checklist: [")
    assert changed_since(again.header)
    file.unlink()
    assert not changed_since(again.header)


def test_a_job_without_sound_says_so_and_stays_so(tmp_path: Path) -> None:
    """Begun without clips, it keeps none, now and when it is taken up; header and account tell."""
    job = open_job(
        _loaded(), {}, ROSTER, now=NOW, engine="keys", jobs=tmp_path, job="a", clips=False
    )
    _begin(job)
    assert job.keeper.keep_clip(b"\1\0" * 800) is None
    _close(job)
    again = resume_job(tmp_path / "a")
    assert again.keeper.keep_clip(b"\1\0" * 800) is None
    assert not again.header.clips
    _close(again)
    assert list((tmp_path / "a" / "clips").iterdir()) == []
    told = account_of(tmp_path / "a")
    assert not told["sound"]["kept"]
    assert "Replies' sound is not kept." in "\n".join(account_text(told))


def test_a_copy_altered_between_two_readings_is_found(tmp_path: Path) -> None:
    """What was read of a record before doesn't stand for what is on the disk now."""
    job = _open(tmp_path)
    _begin(job)
    _close(job)
    _close(resume_job(tmp_path / "one"))
    copy = next((tmp_path / "one" / "checklist").glob("*.yaml"))
    whole = copy.read_text(encoding="utf-8")
    copy.write_text(whole.replace("minutes: 1\n", "minutes: 2\n"), encoding="utf-8")
    assert copy.read_text(encoding="utf-8") != whole
    with pytest.raises(RecordDamaged, match="not the one the job was begun with"):
        resume_job(tmp_path / "one")


def test_sound_is_kept_until_the_record_says_otherwise(tmp_path: Path) -> None:
    """Taken up without clips, an entry says that none are kept from there; the job goes on."""
    job = _open(tmp_path)
    state = _begin(job)
    assert job.keeper.keep_clip(b"\1\0" * 800) is not None
    _close(job)
    for clips in (False, True, False):
        again = resume_job(tmp_path / "one", clips=clips)
        assert again.state == state
        assert again.keeper.keep_clip(b"\1\0" * 800) is None
        _close(again)
    kinds = [entry.kind for entry in read_entries(tmp_path / "one")]
    assert kinds.count(KEPT) == 1
