"""Clips removed by a rule: the chain holds, the audit tells them from clips that are missing."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant.errors import BadInput, JobInUse, RecordDamaged
from assistant.record import retaining
from assistant.record.audit import audit
from assistant.record.clips import save_clip
from assistant.record.entry import make_entry, parse_line
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from assistant.record.retaining import retain
from assistant.record.retention import RETENTION, Removal
from assistant.record.signing import ShopKey
from tests.record.making import TONE, open_record, overwrite, sealed_record
from tests.record.test_signing import rfc_key, signed_record

CLIP = "clips/000001.flac"
LATER = ("2026-02-01T03:04:05.678Z", 7.0)  # 30 days after the small record's seal


def test_a_clip_goes_when_its_days_are_over(tmp_path: Path) -> None:
    """Not a day sooner; the journal keeps every byte, and the audit says when and by which rule."""
    folder, seal = sealed_record(tmp_path)
    journal = (folder / JOURNAL).read_bytes()
    digest = json.loads(journal.splitlines()[2])["data"]["reply"]["clip"]["sha256"]
    assert retain(folder, 31, LATER).why_not == "young"
    assert (folder / CLIP).exists()
    assert retain(folder, 30, LATER) == retaining.Retained(folder.name, 1)
    assert not (folder / CLIP).exists()
    assert (folder / JOURNAL).read_bytes() == journal
    found = audit(folder)
    assert (found.ok, found.seal) == (True, seal)
    assert found.removed == (Removal(CLIP, digest, LATER[0], 30),)
    before = (folder / RETENTION).read_bytes()
    assert retain(folder, 30, LATER).removed == 0
    assert (folder / RETENTION).read_bytes() == before


def test_a_clip_missing_without_a_note_is_missing(tmp_path: Path) -> None:
    """No note, a note for another clip, or a note that came too early explains nothing."""
    folder, _ = sealed_record(tmp_path)
    (folder / CLIP).unlink()
    assert audit(folder).problem == f"entry 2 (line 3): {CLIP} is missing"


def test_a_note_on_a_clip_that_never_was_is_wrong(tmp_path: Path) -> None:
    """Even when no clip is missing."""
    folder, _ = sealed_record(tmp_path)
    content = (folder / CLIP).read_bytes()
    _forge(folder, file="clips/000002.flac")
    (folder / CLIP).write_bytes(content)
    assert "never in the record" in (audit(folder).problem or "")


def test_other_clips_stay_covered(tmp_path: Path) -> None:
    """A changed or missing checklist copy is still found after the clips are gone."""
    folder, _ = sealed_record(tmp_path)
    retain(folder, 0, LATER)
    (folder / "checklist" / "bars.yaml").unlink()
    assert "bars.yaml is missing" in (audit(folder).problem or "")


def test_an_open_job_keeps_its_clips(tmp_path: Path) -> None:
    """Only sealed jobs are old; a note beside an open record is wrong."""
    folder = open_record(tmp_path)
    assert retain(folder, 0, LATER).why_not == "open"
    _forge(folder, prev="0" * 64, n=4)
    assert "not sealed" in (audit(folder).problem or "")


def test_nothing_goes_from_a_record_that_does_not_verify(tmp_path: Path) -> None:
    """Sound may be the evidence of what was changed."""
    folder, _ = sealed_record(tmp_path)
    overwrite(folder / "checklist" / "bars.yaml", b"title: Other\n")
    with pytest.raises(RecordDamaged, match="nothing is removed"):
        retain(folder, 0, LATER)
    assert (folder / CLIP).exists()


def test_a_job_in_use_is_left(tmp_path: Path) -> None:
    """Whoever works on it holds the lock."""
    folder = open_record(tmp_path)
    with Journal.open(folder), pytest.raises(JobInUse):
        retain(folder, 0, LATER)


def test_days_below_zero_are_refused(tmp_path: Path) -> None:
    """A rule that lies before the seal is no rule."""
    with pytest.raises(BadInput):
        retain(tmp_path, -1, LATER)


def test_a_stop_between_note_and_removal_is_finished(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The note comes first; stopped then, the record is whole; the next run removes the rest."""
    folder = open_record(tmp_path)
    with Journal.open(folder) as journal:
        second = save_clip(folder, TONE)
        journal.append("heard", {"clip": second.data()}, "2026-01-02T03:04:06.678Z", 3.5)
        from assistant.record.seal import seal  # noqa: PLC0415 - beside its use

        seal(journal, "2026-01-02T03:04:05.678Z", 4.0)

    def stopped(path: Path) -> None:
        raise KeyboardInterrupt(path.name)

    with monkeypatch.context() as patched:
        patched.setattr(
            Path, "unlink", lambda p, missing_ok=False: None if missing_ok else stopped(p)
        )
        with pytest.raises(KeyboardInterrupt):
            retain(folder, 30, LATER)
    assert (audit(folder).ok, audit(folder).removed) == (True, ())
    assert retain(folder, 90, LATER).removed == 2
    assert [gone.file for gone in audit(folder).removed] == [CLIP, second.file]


def test_a_signed_record_takes_its_signer_s_note_only(tmp_path: Path) -> None:
    """Another key, or none, removes nothing; a note forged with another key fails the audit."""
    folder = signed_record(tmp_path, rfc_key())
    other = ShopKey.create(tmp_path / "other")
    for key in (None, other):
        with pytest.raises(RecordDamaged, match="nothing is removed"):
            retain(folder, 0, LATER, key)
    retain(folder, 0, LATER, rfc_key())
    assert audit(folder).ok
    note = parse_line((folder / RETENTION).read_bytes())
    unsigned = {name: value for name, value in note.data.items() if name != "signed"}
    for data in (unsigned, {**note.data, "days": 1}):
        forged = make_entry(note.n, note.kind, data, wall=note.wall, mono=0.0, prev=note.prev)
        (folder / RETENTION).write_bytes(forged.line())
        assert "sign" in (audit(folder).problem or "")


@pytest.mark.parametrize(
    ("change", "problem"),
    [
        ({"prev": "0" * 64}, "does not follow"),
        ({"n": 9}, "does not follow"),
        ({"wall": "2026-01-02T03:04:05.679Z"}, "sooner"),
        ({"file": "clips/000002.flac"}, "is missing"),
        ({"sha256": "0" * 64}, "is missing"),
        ({"file": "checklist/bars.yaml"}, "no clip"),
        ({"file": "../../clips/000001.flac"}, "no clip"),
        ({"days": -1}, "number of days"),
        ({"days": True}, "number of days"),
        ({"kind": "said"}, "no note"),
    ],
)
def test_a_forged_note_explains_nothing(
    tmp_path: Path, change: dict[str, object], problem: str
) -> None:
    """Each part of a note is held against the record."""
    folder, _ = sealed_record(tmp_path)
    _forge(folder, **change)
    found = audit(folder)
    assert not found.ok
    assert problem in (found.problem or "")


def test_every_byte_of_a_note_counts(tmp_path: Path) -> None:
    """A note changed in any one byte is found."""
    folder, _ = sealed_record(tmp_path)
    retain(folder, 30, LATER)
    content = (folder / RETENTION).read_bytes()
    for place in range(len(content)):
        changed = bytes([content[place] ^ 1])
        overwrite(folder / RETENTION, content[:place] + changed + content[place + 1 :])
        assert not audit(folder).ok, place


@settings(max_examples=40, deadline=None)
@given(st.binary(max_size=300))
def test_anything_else_as_notes_is_told(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    """Whatever lies there, the audit says what is wrong and doesn't break."""
    folder, _ = sealed_record(tmp_path_factory.mktemp("notes"))
    (folder / RETENTION).write_bytes(content)
    found = audit(folder)
    assert not found.ok
    assert RETENTION in (found.problem or "")


def _forge(folder: Path, **change: object) -> None:
    """Remove the clip, with a note of our own making; what isn't given is right."""
    lines = (folder / JOURNAL).read_bytes().splitlines(keepends=True)
    last = parse_line(lines[-1])
    clip = parse_line(lines[2]).data["reply"]["clip"]  # type: ignore[call-overload,index] # JSON
    right = {
        "prev": last.hash,
        "n": last.n + 1,
        "wall": LATER[0],
        "file": CLIP,
        "sha256": clip["sha256"],  # type: ignore[call-overload,index] # JSON
        "days": 30,
        "kind": "removed",
    }
    f = {**right, **change}
    data = {"days": f["days"], "files": [{"file": f["file"], "sha256": f["sha256"]}]}
    note = make_entry(
        int(str(f["n"])), str(f["kind"]), data, wall=str(f["wall"]), mono=0.0, prev=str(f["prev"])
    )
    (folder / RETENTION).write_bytes(note.line())
    (folder / CLIP).unlink()
