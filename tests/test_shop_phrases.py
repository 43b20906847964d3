"""A shop's own phrases."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant import packaged
from assistant.checking import check_phrases
from assistant.errors import BadFile
from assistant.language.grammar import build_grammar
from assistant.opening import words_of
from assistant.shop_phrases import PHRASES_FILE, with_shop_phrases


def _home(folder: Path, text: str) -> Path:
    (folder / PHRASES_FILE).write_text(text, encoding="utf-8")
    return folder


def test_an_added_phrase_means_the_same(tmp_path: Path) -> None:
    """What the shop says for a step that is done counts like the taught phrase."""
    home = _home(tmp_path, "language: en\nintents:\n  step_done: [wrapped and tight]\n")
    book = words_of("en", home).book
    found = build_grammar(book, ["step_done"]).match("wrapped and tight")
    assert found is not None
    assert found.name == "step_done"
    assert book.taught("step_done") == packaged.phrasebook("en").taught("step_done")


def test_without_a_file_nothing_changes(tmp_path: Path) -> None:
    """No file, or one in another language, leaves the phrasebook as it came."""
    book = packaged.phrasebook("en")
    assert with_shop_phrases(book, tmp_path) is book
    home = _home(tmp_path, "language: ko\nintents: {}\n")
    assert with_shop_phrases(book, home) is book


def test_a_mistake_is_told_with_its_line(tmp_path: Path) -> None:
    """An unknown intent is named with file and line, and the check tells of it too."""
    home = _home(tmp_path, "language: en\nintents:\n  step_dun: [wrapped]\n")
    with pytest.raises(BadFile) as caught:
        words_of("en", home)
    (finding,) = caught.value.findings
    assert (finding.line, "step_dun" in finding.message) == (3, True)
    checked = check_phrases(home)
    assert checked is not None
    assert checked.findings == caught.value.findings


def test_what_sounds_like_another_phrase_is_named(tmp_path: Path) -> None:
    """An addition that can't be told apart by ear from what may be said then is a finding."""
    home = _home(tmp_path, "language: en\nintents:\n  stand_by: [step complied]\n")
    checked = check_phrases(home)
    assert checked is not None
    assert any("step complied" in finding.message for finding in checked.findings)
