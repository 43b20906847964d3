"""`gloveson check --watch`: checked anew after each change, until Ctrl-C."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

import pytest

from assistant.cli import check, watching
from assistant.cli.main import main

PART = "shared: part\ntitle: Part\nsource: Notes.\nsteps:\n  - {step: look, do: Look round.}\n"
MAIN = """\
checklist: job
title: Job
version: 1.0.0
machines: [{name: Ostrel 900 roadster}]
source: Notes.
standing: On the stand.
sections:
  - include: shared/part.yaml
"""


def _folder(tmp_path: Path) -> Path:
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / "part.yaml").write_text(PART, encoding="utf-8")
    file = tmp_path / "job.yaml"
    file.write_text(MAIN, encoding="utf-8")
    return file


class Author:
    """Saves things while the program waits, then presses Ctrl-C; `pauses` counts the looks."""

    def __init__(self, *saves: Callable[[], object]) -> None:
        self._saves = list(saves)
        self.pauses = 0

    def __call__(self) -> None:
        """One pause: every third one something is saved."""
        self.pauses += 1
        if self.pauses % 3:
            return
        if not self._saves:
            raise KeyboardInterrupt
        self._saves.pop(0)()


def _watch(file: Path, *saves: Callable[[], object]) -> int:
    given = argparse.Namespace(checklists=[str(file)], json=False)
    return watching.watch(
        lambda: check._check(given), lambda: watching.files_of([str(file)]), Author(*saves)
    )


def test_a_saved_file_is_checked_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Once at the beginning, once for a change; Ctrl-C ends it with what the last check found."""
    file = _folder(tmp_path)
    wrong = MAIN.replace("title: Job", "titel: Job")
    assert _watch(file, lambda: file.write_text(wrong, encoding="utf-8")) == 1
    printed = capsys.readouterr().out
    assert printed.count("job.yaml: ok") == 1
    assert 'did you mean "title"?' in printed


def test_a_shared_section_counts_too(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Also one that is deleted and written again."""
    file = _folder(tmp_path)
    part = tmp_path / "shared" / "part.yaml"
    changed = PART.replace("Look round.", "Look at both sides.")
    assert _watch(file, part.unlink, lambda: part.write_text(changed, encoding="utf-8")) == 0
    printed = capsys.readouterr().out
    assert printed.count("job.yaml: ok") == 2
    assert printed.count("no-such-include") == 1


def test_nothing_changed_nothing_checked(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Time alone checks nothing again, nor does a file beside it."""
    file = _folder(tmp_path)
    assert _watch(file, lambda: (tmp_path / "notes.txt").write_text("x", encoding="utf-8")) == 0
    assert capsys.readouterr().out.count("job.yaml: ok") == 1


def test_a_change_during_the_check_is_not_lost(tmp_path: Path) -> None:
    """What is saved while the check runs is checked as well."""
    file = _folder(tmp_path)
    checks: list[str] = []

    def slow_check() -> int:
        checks.append(file.read_text(encoding="utf-8"))
        if len(checks) == 1:
            file.write_text(MAIN + "# more\n", encoding="utf-8")
        return 0

    watching.watch(slow_check, lambda: watching.files_of([str(file)]), Author())
    assert checks == [MAIN, MAIN + "# more\n"]


def test_what_can_not_be_read_is_watched_all_the_same(tmp_path: Path) -> None:
    """A file in the middle of a mistake is still looked at, and one that is not there yet."""
    file = tmp_path / "job.yaml"
    assert watching.files_of([str(file)]) == [file]
    file.write_text("checklist: [", encoding="utf-8")
    assert watching.files_of([str(file)]) == [file]


def test_json_and_watch_exclude_each_other(capsys: pytest.CaptureFixture[str]) -> None:
    """One JSON value can't tell of many checks."""
    with pytest.raises(SystemExit) as ended:
        main(["check", "raised-handlebar", "--json", "--watch"])
    assert ended.value.code == 2
    assert "not allowed with" in capsys.readouterr().err
