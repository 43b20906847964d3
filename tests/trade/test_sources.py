"""The list of outside sources is counted from the tests themselves."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from tests.trade.sources import HERE

TWO_SOURCES = """\
import pytest
from tests.trade.outside import outside, rows, value

@outside("book", values=3)
def test_three(): ...

@pytest.mark.parametrize("one", [*rows("table", [(1,), (2,), (3,)]), value("book", 4)])
def test_rows(one): assert one != 2

def test_of_our_own(): ...
"""


def test_only_marked_cases_that_pass_are_counted(tmp_path: Path) -> None:
    """A failing case counts nothing and is told; a test without a mark counts nothing."""
    (tmp_path / "conftest.py").write_text((HERE / "conftest.py").read_text(encoding="utf-8"))
    (tmp_path / "test_figures.py").write_text(TWO_SOURCES)
    code = (
        "import sys, pathlib; from tests.trade.sources import count; "
        f"found = count(pathlib.Path({str(tmp_path)!r})); "
        "print(dict(found.figures), len(found.failed))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code],
        cwd=HERE.parents[1],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert ran.stdout.splitlines()[-1] == "{'book': 4, 'table': 2} 1"
