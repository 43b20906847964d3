"""What holds for all tests."""

from __future__ import annotations

import logging
from collections.abc import Iterator

import pytest


@pytest.fixture(autouse=True)
def _log_level_as_before() -> Iterator[None]:
    """A command run in this process quiets the package's log; the next test hears it again."""
    log = logging.getLogger("assistant")
    before = log.level
    yield
    log.setLevel(before)
