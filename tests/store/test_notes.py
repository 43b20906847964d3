"""Notes of clips removed: they go to the store, and there the clips that they name go too."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from sqlalchemy import Engine, select

from assistant.cli.main import main
from assistant.errors import StoreRefused
from assistant.record.audit import audit
from assistant.record.cover import look
from assistant.record.entry import make_entry
from assistant.record.retaining import retain
from assistant.record.retention import RETENTION, read_notes
from assistant.store import setup
from assistant.store.address import read_address
from assistant.store.fetching import fetch
from assistant.store.forwarding import Forwarded, forward
from assistant.store.journals import FILE, NOTE, VERSION
from assistant.store.notes import Dropped, drop_clips, take_notes
from assistant.store.setup import check_version, set_up
from tests.record.making import JOB, sealed_record
from tests.record.test_signing import rfc_key, signed_record
from tests.store.conftest import Shop
from tests.store.server import Server
from tests.store.test_guards import refusal

CLIP = "clips/000001.flac"
LATER = ("2026-02-01T03:04:05.678Z", 7.0)


def stored(store: Engine) -> set[str]:
    """Files in the store."""
    with store.connect() as connection:
        return set(connection.execute(select(FILE.c.name)).scalars())


def removed(store: Engine, place: Path) -> tuple[str, ...]:
    """What an audit of the record that comes back tells as removed."""
    shutil.rmtree(place, ignore_errors=True)
    fetch(store, "bay_1", JOB, place)
    found = audit(place, JOB)
    assert found.ok, found.problem
    return tuple(one.file for one in found.removed)


def test_a_note_goes_along_and_the_office_removes_the_clip(
    store: Engine, office: Engine, tmp_path: Path
) -> None:
    """The record that comes back passes the audit at every stage; the clip comes back no more."""
    folder, _ = sealed_record(tmp_path / "jobs")
    assert forward(store, "bay_1", tmp_path / "jobs") == Forwarded(1, 5)
    assert drop_clips(office) == []
    retain(folder, 30, LATER)
    assert forward(store, "bay_1", tmp_path / "jobs") == Forwarded(notes=1)
    assert removed(store, tmp_path / "back") == ()  # the clip is there still
    assert (tmp_path / "back" / RETENTION).read_bytes() == (folder / RETENTION).read_bytes()
    assert drop_clips(office) == [Dropped("bay_1", JOB, 1)]
    assert CLIP not in stored(store)
    assert stored(store) == {"checklist/bars.yaml", "checklist/shared/battery.yaml"}
    assert removed(store, tmp_path / "back") == (CLIP,)
    assert drop_clips(office) == []
    assert forward(store, "bay_1", tmp_path / "jobs") == Forwarded()


def test_removed_before_it_was_ever_forwarded(store: Engine, tmp_path: Path) -> None:
    """A clip that a note explains is no problem, and one that still lies there is not sent."""
    folder, _ = sealed_record(tmp_path / "jobs")
    sound = (folder / CLIP).read_bytes()
    retain(folder, 0, LATER)
    (folder / CLIP).write_bytes(sound)  # a run that was stopped between note and removal
    assert forward(store, "bay_1", tmp_path / "jobs") == Forwarded(1, 5, notes=1)
    assert CLIP not in stored(store)
    assert removed(store, tmp_path / "back") == (CLIP,)


def test_a_clip_missing_without_a_note_is_still_a_problem(store: Engine, tmp_path: Path) -> None:
    """No note explains it."""
    folder, _ = sealed_record(tmp_path / "jobs")
    (folder / CLIP).unlink()
    (problem,) = forward(store, "bay_1", tmp_path / "jobs").problems
    assert "is missing" in problem.reason


def test_damaged_notes_are_told_and_not_sent(store: Engine, tmp_path: Path) -> None:
    """What the audit would refuse goes nowhere."""
    folder, _ = sealed_record(tmp_path / "jobs")
    forward(store, "bay_1", tmp_path / "jobs")
    retain(folder, 0, LATER)
    content = (folder / RETENTION).read_bytes()
    (folder / RETENTION).write_bytes(content.replace(b'"days":0', b'"days":1'))
    sent = forward(store, "bay_1", tmp_path / "jobs")
    assert sent.notes == 0
    assert [RETENTION in problem.reason for problem in sent.problems] == [True]


def test_an_unsigned_note_on_a_signed_record_removes_nothing(
    store: Engine, office: Engine, tmp_path: Path
) -> None:
    """The store takes what follows the chain; the office's audit asks for the signature too."""
    folder = signed_record(tmp_path / "jobs", rfc_key())
    forward(store, "bay_1", tmp_path / "jobs")
    seal = audit(folder).seal
    last = audit(folder).entries - 1
    with store.connect() as connection:
        sha256 = connection.execute(select(FILE.c.sha256).where(FILE.c.name == CLIP)).scalar_one()
    data = {"days": 0, "files": [{"file": CLIP, "sha256": sha256}]}
    note = make_entry(last + 1, "removed", data, wall=LATER[0], mono=1.0, prev=seal or "")
    assert take_notes(store, "bay_1", folder.name, (note,)) == 1
    (told,) = drop_clips(office)
    assert "not signed with the key" in told.problem
    assert CLIP in stored(store)


def test_a_note_that_does_not_follow_is_refused(store: Engine, tmp_path: Path) -> None:
    """Neither a gap nor another note of the same number."""
    folder, _ = sealed_record(tmp_path / "jobs")
    retain(folder, 0, LATER)
    (note,) = read_notes(folder, look(folder)).entries
    with pytest.raises(StoreRefused, match="does not follow"):
        take_notes(store, "bay_1", JOB, (note,))  # its record isn't there
    forward(store, "bay_1", tmp_path / "jobs")
    other = make_entry(note.n, note.kind, note.data, wall=note.wall, mono=9.5, prev=note.prev)
    with pytest.raises(StoreRefused, match="another hash"):
        take_notes(store, "bay_1", JOB, (other,))
    late = make_entry(note.n + 2, note.kind, note.data, wall=note.wall, mono=1, prev=note.hash)
    with pytest.raises(StoreRefused, match="does not follow"):
        take_notes(store, "bay_1", JOB, (note, late))


def test_the_database_lets_only_the_office_remove_only_what_a_note_names(
    shop: Shop, tmp_path: Path
) -> None:
    """Whatever statement is sent: no bay removes, the office no more than a note names."""
    folder, _ = sealed_record(tmp_path / "jobs")
    bay = shop.engine("bay_1")
    forward(bay, "bay_1", tmp_path / "jobs")
    shop.sql("delete from gloveson.file", role="office_1")
    assert CLIP in stored(bay)
    retain(folder, 0, LATER)
    (note,) = read_notes(folder, look(folder)).entries
    into = "insert into gloveson.note (bay, job, n, hash, prev, kind, line) values "
    row = "('bay_1', '{job}', {n}, '{hash}', '{prev}', 'removed', decode('{line}', 'hex'))"
    facts: dict[str, object] = {"job": JOB, "n": note.n, "hash": note.hash, "prev": note.prev,
             "line": note.line().hex()}  # fmt: skip
    bad: list[tuple[dict[str, object], str]] = [
        ({"job": "another"}, "does not follow"),
        ({"n": note.n + 1}, "does not match"),
        ({"prev": "0" * 64}, "does not match"),
        ({"line": "7b7d0a"}, "does not match"),
    ]
    for changed, said in bad:
        assert said in refusal(shop, into + row.format_map(facts | changed)), changed
    assert "row-level security" in refusal(shop, into + row.format_map(facts), "bay_2")
    assert "permission denied" in refusal(shop, into + row.format_map(facts), "office_1")
    assert forward(bay, "bay_1", tmp_path / "jobs").notes == 1
    for role, statement in (
        ("bay_1", "delete from gloveson.file"),
        ("bay_1", "delete from gloveson.note"),
        ("bay_1", "update gloveson.note set line = ''"),
        ("office_1", "delete from gloveson.note"),
        ("office_1", "delete from gloveson.entry"),
        ("office_1", "update gloveson.file set content = ''"),
    ):
        assert "permission denied" in refusal(shop, statement, role), statement
    shop.sql("delete from gloveson.file", role="office_1")
    assert stored(bay) == {"checklist/bars.yaml", "checklist/shared/battery.yaml"}
    assert removed(bay, tmp_path / "back") == (CLIP,)


@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_a_store_of_the_first_version_is_brought_up(
    kind: str, request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is in it stays, and it takes notes from then on."""
    address = f"sqlite:///{tmp_path}/old.sqlite"
    if kind == "postgresql":
        server: Server = request.getfixturevalue("server")
        server.sql("create database first_version")
        address = server.address("first_version")
    engine = read_address(address).open()
    with monkeypatch.context() as patch:
        patch.setattr(setup, "VERSION", 1)
        patch.setattr(setup, "_MIGRATIONS", setup._MIGRATIONS[:1])
        assert set_up(engine) == (0, 1)
    assert set_up(engine) == (1, VERSION)
    check_version(engine)
    with engine.connect() as connection:
        assert connection.execute(select(NOTE.c.n)).all() == []
    engine.dispose()


def test_by_the_commands(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """retain, forward, store --remove-clips, forward --fetch: what the notice promises."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    monkeypatch.setenv("GLOVESON_STORE", f"sqlite:///{tmp_path}/store.sqlite")
    sealed_record(tmp_path / "jobs")
    assert main(["store", "--set-up"]) == 0
    assert main(["forward"]) == 0
    assert main(["retain", "--days", "0"]) == 0
    assert main(["forward"]) == 0
    assert "1 notes of clips removed" in capsys.readouterr().out
    assert main(["store", "--remove-clips"]) == 0
    assert "1 clips removed from 1 jobs in the store" in capsys.readouterr().out
    assert main(["forward", "--fetch", JOB, str(tmp_path / "back")]) == 0
    assert not (tmp_path / "back" / CLIP).exists()
    assert main(["audit", str(tmp_path / "back")]) == 0
    assert "removed" in capsys.readouterr().out
