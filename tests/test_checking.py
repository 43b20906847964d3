"""What `check` puts together: shape, sense, wording, proof."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant import checking, shelf
from assistant.checking import check_all, check_file, check_loaded, confirming_phrases
from assistant.checklist.loader import load
from tests.job.bench import ALL_HAZARDS, HEAD

SHIPPED = (
    "battery-replacement",
    "chain-and-sprockets",
    "clutch-cable-adjustment",
    "fork-oil-seals",
    "front-brake-pads",
    "oil-and-filter",
    "pre-delivery-inspection",
    "raised-handlebar",
    "rear-brake-line",
    "throttle-and-grip-wiring",
    "wheel-bearing-and-tire",
)


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_checklists_pass(name: str) -> None:
    """Every checklist that comes along is in order, and each choice of options was proved."""
    checked = check_file(name)
    assert checked.ok, [str(finding) for finding in checked.findings]
    assert checked.steps > 5
    assert checked.paths >= 1
    assert checked.states > 1


def test_all_shipped_checklists_are_among_them() -> None:
    """No checklist is shipped that the test above leaves out."""
    assert tuple(sorted(p.stem for p in shelf.checklists_folder().glob("*.yaml"))) == SHIPPED


def _checked(text: str) -> checking.Checked:
    return check_loaded(load({"small.yaml": text}, "small.yaml"))


def test_a_sound_checklist_is_proved() -> None:
    """A checklist with every hazard, each closed and proved, passes the proof."""
    checked = _checked(ALL_HAZARDS)
    assert [str(f) for f in checked.findings if f.code in ("hazard-open", "release-open")] == []
    assert checked.steps == 12


def test_a_hazard_left_open_is_found_with_the_way_to_it() -> None:
    """A fuel line that never goes back on: the proof names line, options and steps."""
    text = HEAD + (
        "      - step: line-off\n"
        '        do: "Pull the fuel line off."\n'
        "        hazards: {fuel: open}\n"
    )
    checked = _checked(text)
    assert not checked.ok
    broken = [finding for finding in checked.findings if finding.path]
    assert broken
    assert broken[0].path[0].startswith("options ")
    assert any("line-off" in part for finding in broken for part in finding.path)


def test_a_language_that_the_program_lacks_is_a_finding() -> None:
    """A checklist in another language is refused as a finding, not as a crash."""
    head = HEAD.replace("version:", "language: xx\nversion:")
    checked = _checked(head + '      - step: a\n        do: "Look."\n')
    assert [finding.code for finding in checked.findings] == ["no-language"]


@pytest.mark.parametrize("text", ["Press ☃ now.", "Say step complete aloud."])
def test_what_cannot_be_said_aloud_is_found(text: str) -> None:
    """A sign without words, and a text that would confirm a step, are errors with their line."""
    checked = _checked(HEAD + f'      - step: a\n        do: "{text}"\n')
    assert not checked.ok
    assert [f.line for f in checked.findings if f.level == "error"] == [13]


def test_too_many_choices_are_an_error_never_a_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    """What can't be walked through is not called proved."""
    monkeypatch.setattr(checking, "MOST_STATES", 3)
    checked = check_file("raised-handlebar")
    assert [finding.code for finding in checked.findings if finding.level == "error"] == [
        "not-proved"
    ]
    assert checked.paths == 0


def test_files_that_are_not_there_are_findings(tmp_path: Path) -> None:
    """Each name gives one result, in the order given, whatever is wrong with it."""
    names = ["no-such-id", str(tmp_path / "none.yaml"), "clutch-cable-adjustment"]
    checked = check_all(names)
    assert [one.ok for one in checked] == [False, False, True]
    assert [one.file for one in checked[:2]] == names[:2]
    assert checked[0].findings[0].code == "no-file"
    assert "clutch-cable-adjustment" in checked[0].findings[0].message


def test_confirming_phrases_are_those_that_confirm() -> None:
    """The phrases that must not be read aloud are exactly the confirmations of the phrasebook."""
    assert set(confirming_phrases("en")) == {"step complete", "done and checked", "affirm"}
