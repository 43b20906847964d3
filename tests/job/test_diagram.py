"""The diagram of the dialogue."""

from __future__ import annotations

import re

from assistant.job.diagram import mermaid
from assistant.job.state import Mode
from assistant.job.table import TABLE


def test_every_mode_is_drawn_and_named() -> None:
    """No mode of the dialogue is missing, and each is named in plain words."""
    lines = mermaid().splitlines()
    assert lines[0] == "stateDiagram-v2"
    for mode in Mode:
        assert f"    {mode.name.lower()} : {mode.value}" in lines


def test_every_arrow_is_in_the_table() -> None:
    """Each arrow stands for rows of the table that may lead there, and the last one is drawn."""
    arrows = re.findall(r"^    (\w+) --> (\w+) : (.+)$", mermaid(), re.MULTILINE)
    assert ("stop", "released", "read_back") in arrows
    for origin, to, names in arrows:
        for name in names.split(", "):
            assert Mode[to.upper()] in TABLE[Mode[origin.upper()], name].to


def test_every_own_row_is_drawn() -> None:
    """Every mode but the last has a way out, and every mode but the first a way in."""
    arrows = re.findall(r"^    (\w+) --> (\w+) :", mermaid(), re.MULTILINE)
    assert {Mode[to.upper()] for _, to in arrows} >= set(Mode) - {
        Mode.NEW,  # where a job begins
        Mode.STAND_BY,  # reached from nearly everywhere, named in the text beside the drawing
        Mode.NOTE,
        Mode.TROUBLE_KIND,
    }
    assert {Mode[origin.upper()] for origin, _ in arrows} == set(Mode) - {Mode.RELEASED}
