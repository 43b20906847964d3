"""Job folders: where they lie, what they may be called, and what is refused."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.errors import BadInput, JournalUnwritable
from assistant.record.folder import (
    find_job,
    is_job_id,
    jobs_home,
    keep_checklist,
    new_job_id,
    safe_name,
    taken_ids,
)
from tests.record.making import CHECKLIST, JOB, WALL, copy_of, open_record


def test_jobs_home_by_variable(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """GLOVESON_HOME moves the jobs; nothing is made by asking."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path / "shop"))
    assert jobs_home() == tmp_path / "shop" / "jobs"
    assert not jobs_home().exists()


@pytest.mark.parametrize("value", ["", "   "])
def test_jobs_home_by_system(value: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the variable, or with an empty one, the user's data folder is taken."""
    monkeypatch.setenv("GLOVESON_HOME", value)
    assert jobs_home().is_absolute()
    assert "gloveson" in jobs_home().parts


def test_new_job_id() -> None:
    """The id is the time the job opens, counted on while it is taken."""
    assert new_job_id(WALL, ()) == "20260102-030405"
    assert new_job_id(WALL, {"20260102-030405"}) == "20260102-030405-2"
    assert new_job_id(WALL, {"20260102-030405", "20260102-030405-2"}) == "20260102-030405-3"
    with pytest.raises(BadInput):
        new_job_id("yesterday", ())


def test_taken_ids(tmp_path: Path) -> None:
    """Ids in use are the names in the folder; a folder that isn't there has none."""
    assert taken_ids(tmp_path / "none") == frozenset()
    open_record(tmp_path)
    assert JOB in taken_ids(tmp_path)


@given(st.integers(1, 50))
def test_new_ids_are_ids(count: int) -> None:
    """Every id that is handed out is one that is accepted."""
    taken: set[str] = set()
    for _ in range(count):
        name = new_job_id(WALL, taken)
        assert is_job_id(name)
        assert name not in taken
        taken.add(name)


@pytest.mark.parametrize(
    "text", ["", ".", "..", "a/b", "A", "a_b", "-a", "a-", "a--b", "a\n", "con", "é", "a" * 65]
)
def test_unsafe_job_ids(text: str) -> None:
    """Ids that could leave the folder, or mean two things on some system, are none."""
    assert not is_job_id(text)


def test_find_job_by_id_and_path(tmp_path: Path) -> None:
    """A job is found by its id, and a copy anywhere by its path."""
    folder = open_record(tmp_path)
    assert find_job(JOB, tmp_path) == folder
    copy = copy_of(folder, tmp_path / "stick")
    assert find_job(str(copy), tmp_path) == copy
    renamed = copy.rename(copy.with_name("For the customer"))
    assert find_job(str(renamed), tmp_path) == renamed


@pytest.mark.parametrize(
    "text",
    [
        "",
        "20990101-000000",
        "..",
        "../..",
        "/etc",
        f"../jobs/{JOB}/clips",
        f"{JOB}/../../etc/passwd",
        f"{JOB}\x00",
        f"{JOB}\n",
        "\x1b[2J",
        "\u202e" + JOB,
        "x" * 5000,
        "con",
    ],
)
def test_find_job_tricks(text: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Anything that is neither a job nor a record folder is bad input, and told printably."""
    jobs = tmp_path / "jobs"
    open_record(jobs)
    monkeypatch.chdir(tmp_path)
    with pytest.raises(BadInput) as caught:
        find_job(text, jobs)
    assert str(caught.value).isprintable()


def test_find_job_link(tmp_path: Path) -> None:
    """A link in the folder of jobs doesn't lead out of it."""
    outside = open_record(tmp_path / "outside")
    jobs = tmp_path / "jobs"
    jobs.mkdir()
    (jobs / JOB).symlink_to(outside)
    with pytest.raises(BadInput, match="symbolic link"):
        find_job(JOB, jobs)


@pytest.mark.parametrize(
    "name",
    [
        "",
        "/etc/passwd",
        "../up.yaml",
        "a/../b.yaml",
        "a//b.yaml",
        ".hidden",
        "a\\b.yaml",
        "c:b.yaml",
        "a\x00.yaml",
        "a\n.yaml",
        "end.",
        "end ",
        "NUL.yaml",
        "e\u0301.yaml",
        "a/b/c/d/e.yaml",
        "x" * 101,
    ],
)
def test_unsafe_names(name: str, tmp_path: Path) -> None:
    """Names that could leave the record, or not exist on another system, are refused."""
    assert not safe_name(name)
    (tmp_path / "checklist").mkdir()
    with pytest.raises(BadInput):
        keep_checklist(tmp_path, {name: b""})
    assert not list((tmp_path / "checklist").iterdir())


@pytest.mark.parametrize(
    "name", ["bars.yaml", "shared/battery.yaml", "핸들바.yaml", "My bars 2.yaml"]
)
def test_safe_names(name: str) -> None:
    """Ordinary names in any script may lie in a record."""
    assert safe_name(name)


def test_keep_checklist(tmp_path: Path) -> None:
    """Copies are exact and come back with their SHA-256, sorted by name."""
    kept = keep_checklist(tmp_path, CHECKLIST)
    assert kept == [
        {"file": f"checklist/{name}", "sha256": hashlib.sha256(content).hexdigest()}
        for name, content in sorted(CHECKLIST.items())
    ]
    for name, content in CHECKLIST.items():
        assert (tmp_path / "checklist" / name).read_bytes() == content


def test_keep_checklist_never_overwrites(tmp_path: Path) -> None:
    """A copy that is there already stays as it is."""
    keep_checklist(tmp_path, {"bars.yaml": b"first"})
    with pytest.raises(BadInput, match="never overwritten"):
        keep_checklist(tmp_path, {"bars.yaml": b"second"})
    assert (tmp_path / "checklist" / "bars.yaml").read_bytes() == b"first"


def test_keep_checklist_no_place(tmp_path: Path) -> None:
    """Where nothing can be written the job must not begin."""
    (tmp_path / "checklist").write_bytes(b"a file where the folder should be")
    with pytest.raises(JournalUnwritable):
        keep_checklist(tmp_path, {"bars.yaml": b""})
