"""Reading a manifest: what is right, and every way to be wrong."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.errors import BadFile
from assistant.trial.manifest import read_manifest, spread
from tests.trial.clips import HEADER, manifest, row, saved, tone


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder with one clip."""
    saved(tmp_path / "go.wav", tone(0.3))
    return tmp_path


def test_a_row_is_read_with_its_file_beside_the_manifest(folder: Path) -> None:
    """Every column arrives; the file is found from the manifest's folder."""
    path = manifest(folder, "go.wav,command,go,ann,", 'go.wav,speech,"a, b",,5,', header=HEADER)
    path = manifest(folder, "go.wav,command,go,ann,", 'go.wav,speech,"a, b",,5')
    first, second = read_manifest(path)
    assert (first.file, first.kind, first.transcript) == (folder / "go.wav", "command", "go")
    assert (first.speaker, first.snr_db, first.where) == ("ann", None, f"{path}:2")
    assert (second.transcript, second.snr_db, second.spoken) == ("a, b", 5.0, False)


def test_other_columns_and_another_order_do_no_harm(folder: Path) -> None:
    """A manifest of ours or another tool's, with more columns, is read too."""
    path = manifest(
        folder,
        "x,go,noise,pink,go.wav,,-5,ann",
        header="split,transcript,kind,noise,file,intent,snr_db,speaker",
    )
    (only,) = read_manifest(path)
    assert (only.kind, only.noise, only.snr_db, only.speaker) == ("noise", "pink", -5.0, "ann")


def test_fragments_and_empty_lines_are_left_out(folder: Path) -> None:
    """A piece of an utterance is not scored; blank lines are nothing."""
    path = manifest(folder, "go.wav,fragment,one two,ann,", "", ",,,,", "go.wav,command,go,ann,")
    assert [r.where for r in read_manifest(path)] == [f"{path}:5"]


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("go.wav,music,go,ann,", '"music" is no kind'),
        ("go.wav,command,,ann,", "needs its transcript"),
        ("gone.wav,command,go,ann,", "there is no file"),
        (",command,go,ann,", "no file is named"),
        (".,command,go,ann,", "there is no file"),
        ("go.wav,command,go,ann,loud", '"loud" is no ratio'),
        ("go.wav,command,go,ann,nan", '"nan" is no ratio'),
        ("go.wav,command,go,ann,1000", '"1000" is no ratio'),
        ("go.wav,command,go,ann", "4 cells under 5 columns"),
        ("go.wav,command,go,ann,,x", "6 cells under 5 columns"),
        ('go.wav,command,"go,ann,', "not CSV"),
    ],
)
def test_a_wrong_row_is_named_with_its_line(folder: Path, line: str, says: str) -> None:
    """File and line come first, then what is wrong; a right row before it does not hide it."""
    path = manifest(folder, "go.wav,command,go,ann,", line)
    with pytest.raises(BadFile) as caught:
        read_manifest(path)
    assert str(caught.value).startswith(f"{path}:3: error: ")
    assert says in str(caught.value)


def test_all_wrong_rows_are_named_at_once(folder: Path) -> None:
    """Nobody has to mend a manifest one error a run."""
    path = manifest(folder, "go.wav,music,go,ann,", "go.wav,command,,ann,x")
    with pytest.raises(BadFile) as caught:
        read_manifest(path)
    assert [finding.line for finding in caught.value.findings] == [2, 3, 3]


@pytest.mark.parametrize(
    ("header", "says"),
    [
        ("file,kind,transcript,speaker", "no column snr_db"),
        ("", "no column file, kind, transcript, speaker, snr_db"),
        ("file,file,kind,transcript,speaker,snr_db", "file stands twice"),
    ],
)
def test_a_wrong_header_is_named(folder: Path, header: str, says: str) -> None:
    """A missing column, or one that stands twice, is an error of line 1."""
    path = manifest(folder, header=header)
    with pytest.raises(BadFile, match=says) as caught:
        read_manifest(path)
    assert caught.value.findings[0].line == 1


def test_files_that_are_no_manifest_are_refused(tmp_path: Path) -> None:
    """A missing file, bytes that are no text, and nothing to hear are each said so."""
    with pytest.raises(BadFile, match="can't be read: no such file"):
        read_manifest(tmp_path / "none.csv")
    bytes_file = tmp_path / "bytes.csv"
    bytes_file.write_bytes(b"file,kind\xff\xfe")
    with pytest.raises(BadFile, match="not UTF-8"):
        read_manifest(bytes_file)
    with pytest.raises(BadFile, match="holds no clip"):
        read_manifest(manifest(tmp_path))
    with pytest.raises(BadFile, match="is not a file"):
        read_manifest(tmp_path)


@pytest.mark.skipif(not Path("/dev/zero").exists(), reason="no such device here")
def test_a_device_is_not_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """It would fill the memory; nothing of it is read."""
    monkeypatch.setattr(Path, "read_text", lambda *_a, **_k: pytest.fail("it was read"))
    with pytest.raises(BadFile, match="is not a file"):
        read_manifest(Path("/dev/zero"))


def test_a_manifest_too_long_is_not_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its size is looked at first."""
    monkeypatch.setattr("assistant.trial.manifest.MAX_BYTES", 3)
    (tmp_path / "long.csv").write_text("file,kind\n", encoding="utf-8")
    with pytest.raises(BadFile, match="is over 3 bytes"):
        read_manifest(tmp_path / "long.csv")


def test_a_limit_takes_rows_of_each_kind_from_all_over(folder: Path) -> None:
    """Ten of each kind of a hundred are every tenth, so that all speakers stay in."""
    del folder
    rows = [row("command", f"c{n}") for n in range(100)] + [row("noise", f"n{n}") for n in range(3)]
    kept = spread(rows, 10)
    assert [r.transcript for r in kept if r.kind == "command"] == [f"c{n * 10}" for n in range(10)]
    assert sum(r.kind == "noise" for r in kept) == 3
    assert spread(rows, None) == tuple(rows)
