"""Reading checklists from disk: limits before reading, and nothing outside the folder."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from assistant import shelf
from assistant.errors import BadFile, BadInput
from assistant.shelf import checklists_folder, find_checklist, load_checklist
from tests.checklist.making import HEAD

SHARED = "shared: part\ntitle: Part\nsource: Test.\nsteps:\n  - {step: one, do: X.}\n"
MAIN = HEAD + "sections:\n  - include: shared/part.yaml\n"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with one checklist and one shared section."""
    (tmp_path / "shared").mkdir()
    (tmp_path / "small.yaml").write_text(MAIN, encoding="utf-8")
    (tmp_path / "shared" / "part.yaml").write_text(SHARED, encoding="utf-8")
    return tmp_path


def refusal(path: Path) -> list[tuple[str, str]]:
    """File name and code of each finding."""
    with pytest.raises(BadFile) as error:
        load_checklist(path)
    return [(Path(f.file).name, f.code) for f in error.value.findings]


def test_a_checklist_is_read_with_what_it_includes(folder: Path) -> None:
    """Both files are there, with their bytes unchanged."""
    loaded = load_checklist(folder / "small.yaml")
    assert [s.name for s in loaded.sources] == ["small.yaml", "shared/part.yaml"]
    assert loaded.sources[0].file == (folder / "small.yaml").as_posix()
    assert loaded.sources[1].text.encode() == (folder / "shared" / "part.yaml").read_bytes()


def test_line_ends_are_kept_as_they_are(folder: Path) -> None:
    """The hash is over the file's bytes, so reading must not change them."""
    data = MAIN.replace("\n", "\r\n").encode()
    (folder / "small.yaml").write_bytes(data)
    assert load_checklist(folder / "small.yaml").sources[0].text.encode() == data


@pytest.mark.parametrize("name", ["small.yaml", "shared/part.yaml"])
def test_a_file_of_fifty_megabytes_is_refused_without_reading(
    folder: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A sparse file is enough: its size is looked at, its content never read."""
    with (folder / name).open("r+b") as file:
        file.truncate(50 * 1024 * 1024)

    real_open = Path.open

    def guarded(path: Path, *args: object, **kwargs: object) -> object:
        assert path != folder / name, "opened although too big"
        return real_open(path, *args, **kwargs)  # type: ignore[call-overload] # passed through

    monkeypatch.setattr(Path, "open", guarded)
    assert refusal(folder / "small.yaml") == [(Path(name).name, "too-big")]


@pytest.mark.parametrize("name", ["small.yaml", "shared/part.yaml"])
def test_what_is_not_utf_8_is_refused_with_its_line(folder: Path, name: str) -> None:
    """Latin-1 in the second line is told with that line."""
    (folder / name).write_bytes("# a\n# é\n".encode("latin-1"))
    with pytest.raises(BadFile) as error:
        load_checklist(folder / "small.yaml")
    assert [(f.code, f.line) for f in error.value.findings] == [("not-utf-8", 2)]


def test_a_pipe_or_folder_is_refused(folder: Path) -> None:
    """Nothing that is not a plain file is opened: a pipe would wait for ever."""
    os.mkfifo(folder / "pipe.yaml")
    assert refusal(folder / "pipe.yaml") == [("pipe.yaml", "not-a-file")]
    assert refusal(folder / "shared") == [("shared", "not-a-file")]
    assert refusal(folder / "missing.yaml") == [("missing.yaml", "unreadable")]


def test_a_link_out_of_the_folder_is_refused(folder: Path) -> None:
    """A shared section that is a link to another file of the machine is not read."""
    (folder / "shared" / "part.yaml").unlink()
    (folder / "shared" / "part.yaml").symlink_to("/etc/passwd")
    assert refusal(folder / "small.yaml") == [("part.yaml", "outside")]


def test_a_missing_include_is_told_by_its_line(folder: Path) -> None:
    """The loader's own finding, not an error of the file system."""
    (folder / "shared" / "part.yaml").unlink()
    assert refusal(folder / "small.yaml") == [("small.yaml", "no-such-include")]


def test_a_file_name_with_escapes_is_shown_not_sent(tmp_path: Path) -> None:
    """A file's name is written by others too."""
    path = tmp_path / "a\x1b[2J.yaml"
    path.write_text("", encoding="utf-8")
    with pytest.raises(BadFile) as error:
        load_checklist(path)
    assert str(error.value).isprintable()


def test_checklists_are_found_beside_the_package_or_inside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A working copy has them at its root, an installation inside the package."""
    package = tmp_path / "site" / "assistant"
    bundled = package / "bundled" / "checklists"
    (bundled / "shared").mkdir(parents=True)
    (bundled / "demo.yaml").write_text(MAIN, encoding="utf-8")
    monkeypatch.setattr(shelf, "_PACKAGE", package)
    assert checklists_folder() == bundled
    assert find_checklist("demo") == bundled / "demo.yaml"
    beside = tmp_path / "site" / "checklists"
    (beside / "shared").mkdir(parents=True)
    assert checklists_folder() == beside


def test_no_checklists_at_all_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An installation that is not whole says what to do."""
    monkeypatch.setattr(shelf, "_PACKAGE", tmp_path / "assistant")
    with pytest.raises(BadInput, match="install Gloves On again"):
        checklists_folder()


def test_an_unknown_name_lists_the_known_ones() -> None:
    """A path is taken as it is; a bare word must be one of the checklists that came along."""
    assert find_checklist("some/where.yaml") == Path("some/where.yaml")
    with pytest.raises(BadInput, match="here are: "):
        find_checklist("no-such-checklist")


def test_the_shipped_checklists_load() -> None:
    """Everything under checklists/ is read without a finding."""
    for file in sorted(checklists_folder().glob("*.yaml")):
        assert load_checklist(file).steps()
