"""What holds for all tests."""

from __future__ import annotations

import logging
from collections.abc import Iterator

import pytest

from tests.store.server import server

__all__ = ["server"]


@pytest.fixture(autouse=True)
def _log_level_as_before() -> Iterator[None]:
    """A command run in this process quiets the package's log; the next test hears it again."""
    log = logging.getLogger("assistant")
    before = log.level
    yield
    log.setLevel(before)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Show how far the random dialogues went, whichever process they ran in."""
    for reports in terminalreporter.stats.values():
        for report in reports:
            if getattr(report, "when", "") != "call":
                continue
            for name, told in report.user_properties:
                if name == "explored":
                    terminalreporter.write_line(f"random dialogues, {told}")
