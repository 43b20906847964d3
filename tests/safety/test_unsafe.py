"""Small checklists that break one thing each are told so exactly; tricky safe ones are not."""

from __future__ import annotations

from pathlib import Path

import pytest

from assistant import shelf
from assistant.checking import check_file
from assistant.checklist.expand import candidates
from assistant.errors import BadFile
from assistant.safety.breaches import BROKEN
from tests.safety.simulator import disturbed, straight

FOLDER = Path(__file__).parent
UNSAFE = sorted((FOLDER / "unsafe").glob("*.yaml"))
SAFE = sorted((FOLDER / "safe").glob("*.yaml"))


def _expected(path: Path) -> tuple[list[str], str]:
    """The codes and the step in a file's first line, `# expect: CODE [CODE] at STEP`."""
    said, _, step = path.read_text(encoding="utf-8").splitlines()[0].partition(" at ")
    return said.removeprefix("# expect: ").split(), step


def _step_at(path: Path, line: int) -> str:
    """The step (or the include) in which a line lies; "release" when it lies nowhere."""
    if line == 0:
        return "release"
    above = path.read_text(encoding="utf-8").splitlines()[:line]
    named = [text.strip(" -").partition(": ") for text in above]
    found = [(key, value) for key, _, value in named if key in ("step", "include")]
    key, value = found[-1]
    return value if key == "step" else key


def test_there_are_enough_of_both() -> None:
    """At least thirty break something, at least ten don't, and every breach has its file."""
    assert len(UNSAFE) >= 30
    assert len(SAFE) >= 10
    assert set(BROKEN) <= {code for path in UNSAFE for code in _expected(path)[0]}


@pytest.mark.parametrize("path", UNSAFE, ids=lambda path: path.stem)
def test_an_unsafe_checklist_is_told_exactly_so(path: Path) -> None:
    """The codes, where they belong, with a path to follow for what the proof found; no more."""
    codes, step = _expected(path)
    found = check_file(str(path)).findings
    assert [(f.level, f.code) for f in found] == [("error", code) for code in codes]
    for finding in found:
        assert _step_at(path, finding.line) == step
        assert bool(finding.path) == (finding.code in BROKEN)


@pytest.mark.parametrize("path", SAFE, ids=lambda path: path.stem)
def test_a_tricky_safe_checklist_has_no_finding(path: Path) -> None:
    """Nothing is found, and the dialogue gets through whatever comes between."""
    assert check_file(str(path)).findings == ()
    assert disturbed(shelf.load_checklist(path), None) is None


@pytest.mark.parametrize("path", UNSAFE, ids=lambda path: path.stem)
def test_what_the_proof_finds_unsafe_stops_the_dialogue(path: Path) -> None:
    """Each breach is real: the brute-force simulator gets stuck on it too."""
    codes, _ = _expected(path)
    if not set(codes) & set(BROKEN):
        return  # refused before any proof
    try:
        loaded = shelf.load_checklist(path)
    except BadFile:
        return
    assert candidates(loaded)
    assert straight(loaded) or disturbed(loaded, None)
