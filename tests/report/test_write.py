"""Pages onto the disk, and the command that does it."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant.cli.main import main
from assistant.errors import BadInput
from assistant.report.write import write_html, write_pdf
from tests.real_parts import require
from tests.store.records import played


def test_a_folder_that_refuses_is_told(tmp_path: Path) -> None:
    """The message names the file."""
    with pytest.raises(BadInput, match="nowhere"):
        write_html("<p>", tmp_path / "nowhere" / "x.html")


def test_the_command_writes_both_pages(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Named after the job where no name is given; the customer's beside it."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    monkeypatch.chdir(tmp_path)
    played(tmp_path / "jobs", "one", "WREN 7")
    assert main(["record", "one", "--html"]) == 0
    assert main(["record", "one", "--customer", "--html"]) == 0
    assert capsys.readouterr().out.split() == ["one.html", "one-customer.html"]
    assert "The work is done" in (tmp_path / "one-customer.html").read_text()


@pytest.mark.filterwarnings("ignore:HarfBuzz-Subset:DeprecationWarning")  # an older Debian
def test_a_pdf_is_made(tmp_path: Path) -> None:
    """With WeasyPrint and Pango here, a real PDF; otherwise a message that says what to install."""
    path = tmp_path / "x.pdf"
    try:
        write_pdf("<p>hello</p>", path)
    except BadInput as problem:
        require(False, str(problem))
    assert path.read_bytes().startswith(b"%PDF")
