"""The mark of tests that hold figures against an outside source."""

from __future__ import annotations

import pytest


def pytest_configure(config: pytest.Config) -> None:
    """Marks have to be known."""
    config.addinivalue_line("markers", "outside(source, values): figures of a source outside")
