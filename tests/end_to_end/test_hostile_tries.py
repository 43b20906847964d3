"""The list of hostile inputs, run as its users run it; by default the quick sets of it."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from tests.end_to_end.running import ROOT

LONG = os.environ.get("GLOVESON_LONG") == "1"


@pytest.mark.skipif(not hasattr(os, "fork"), reason="each try is a process that is forked")
@pytest.mark.parametrize(
    "sets", [("archives",), ("files", "journals", "models", "folders", "sounds", "returning")]
)
def test_no_hostile_input_misbehaves(sets: tuple[str, ...]) -> None:
    """Refused with a message or taken without harm; the list's own process says what was not."""
    if sets != ("archives",) and not LONG:
        pytest.skip("some minutes; GLOVESON_LONG=1 runs it")
    ran = subprocess.run(
        [sys.executable, "-m", "tests.end_to_end.hostile", *sets],
        capture_output=True,
        text=True,
        encoding="utf-8",
        cwd=ROOT,
        check=False,
        timeout=1800,
    )
    assert ran.returncode == 0, ran.stdout + ran.stderr
    assert ran.stdout.strip().endswith(" 0 misbehaved")
