"""Marks the tests that hold our figures against a source outside this project.

A mark names the source and how many of its figures each case of the test compares. `sources` counts
them by collecting the tests, so that the list is never written by hand.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import pytest

FROM_MEMORY = "from memory, proved by another source"


def outside(source: str, *, values: int = 1) -> pytest.MarkDecorator:
    """Each case of this test compares so many figures of the source."""
    return pytest.mark.outside(source, values)


def value(source: str, *case: object, values: int = 1) -> Any:  # noqa: ANN401 - pytest's own type
    """One case of a parametrized test, with its source."""
    return pytest.param(*case, marks=outside(source, values=values))


def rows(source: str, cases: Iterable[tuple[Any, ...]], *, values: int = 1) -> list[Any]:
    """Cases of a parametrized test, all of one source."""
    return [value(source, *case, values=values) for case in cases]
