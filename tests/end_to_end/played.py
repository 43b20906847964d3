"""One rehearsal for all tests that only look at what came out of it."""

from __future__ import annotations

import functools
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.end_to_end.running import Ran, gloveson

CHECKLIST = "clutch-cable-adjustment"


@dataclass(frozen=True, slots=True)
class Played:
    """A rehearsal that has been played.

    Attributes:
        home: the folder that jobs, models and caches went to.
        out: the folder that the record went to.
    """

    home: Path
    out: Path
    ran: Ran

    @property
    def result(self) -> dict[str, Any]:
        """What it printed."""
        found: dict[str, Any] = self.ran.json()
        return found

    @property
    def record(self) -> Path:
        """The record folder."""
        return Path(self.result["record"])


@functools.cache
def played() -> Played:
    """A short job, rehearsed by the command; kept until the tests end."""
    home = Path(tempfile.mkdtemp(prefix="gloves-on-test-"))
    ran = gloveson(
        home, "rehearse", CHECKLIST, "--json", "--out", str(home / "out"), timeout_s=150.0
    )
    return Played(home, home / "out", ran)
