"""An author's slips: each file holds one, and `check` finds that one, in its line, with figures.

The first lines of a file say what is found and part of what is said; the line of the slip ends
with "# <- here".
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from assistant.checking import check_file

SLIPS = sorted((Path(__file__).parent / "slips").glob("*.yaml"))
SHIPPED = sorted((Path(__file__).parents[2] / "checklists").glob("*.yaml"))


@pytest.mark.parametrize("slip", SLIPS, ids=lambda path: path.stem)
def test_a_slip_is_found_where_it_is(slip: Path) -> None:
    """One finding, of the right kind and level, in the right line, with the arithmetic."""
    text = slip.read_text(encoding="utf-8")
    expected = re.match(r"# finds: (\S+) (\S+)\n# says: (.+)\n", text)
    assert expected is not None
    (line,) = [n for n, row in enumerate(text.splitlines(), start=1) if row.endswith("# <- here")]
    found = check_file(str(slip)).findings
    assert [(f.level, f.code, f.line) for f in found] == [(expected[1], expected[2], line)]
    assert expected[3] in found[0].message


def test_there_are_slips_of_every_kind() -> None:
    """At least twenty-five, and no two files say the same."""
    said = {path.read_text(encoding="utf-8").split("checklist:", 1)[0] for path in SLIPS}
    assert len(said) == len(SLIPS) >= 25


@pytest.mark.parametrize("shipped", SHIPPED, ids=lambda path: path.stem)
def test_no_slip_is_found_in_a_shipped_checklist(shipped: Path) -> None:
    """Not even a warning."""
    assert check_file(str(shipped)).findings == ()
