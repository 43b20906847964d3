"""Lists the outside sources that tests hold our figures against, and how many figures of each.

Run with: python -m tests.trade.sources. The tests are run, and what counts is each case that passed
and is marked with its source (`tests.trade.outside`); nothing is counted by hand.
"""

from __future__ import annotations

import io
import sys
from collections import Counter
from contextlib import redirect_stdout
from pathlib import Path

import pytest

HERE = Path(__file__).parent


class Counting:
    """Counts the figures of every marked case as it passes.

    Attributes:
        figures: by source.
        failed: names of the marked cases that didn't pass.
    """

    def __init__(self) -> None:
        self.figures: Counter[str] = Counter()
        self.failed: list[str] = []
        self._marked: dict[str, tuple[str, int]] = {}

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        """Only marked cases are run."""
        marked = [(item, item.get_closest_marker("outside")) for item in items]
        items[:] = [item for item, mark in marked if mark is not None]
        self._marked = {item.nodeid: mark.args for item, mark in marked if mark is not None}

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """A case that passed is counted."""
        if report.when == "call" and report.passed:
            source, values = self._marked[report.nodeid]
            self.figures[source] += values
        elif not report.passed:
            self.failed.append(report.nodeid)


def count(*places: Path) -> Counting:
    """Run the marked tests of these files or folders.

    Raises:
        RuntimeError: they can't be run at all.
    """
    counting = Counting()
    said = io.StringIO()
    with redirect_stdout(said):
        code = pytest.main([*map(str, places), "-p", "no:cacheprovider"], plugins=[counting])
    if code not in {pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED}:
        raise RuntimeError(said.getvalue())
    return counting


def main() -> int:
    """Print the list."""
    counting = count(HERE)
    for source, figures in counting.figures.most_common():
        sys.stdout.write(f"{figures:5}  {source}\n")
    total = counting.figures.total()
    sys.stdout.write(f"{total:5}  figures of {len(counting.figures)} sources\n")
    for failed in counting.failed:
        sys.stdout.write(f"not counted, didn't pass: {failed}\n")
    return 1 if counting.failed else 0


if __name__ == "__main__":
    raise SystemExit(main())
