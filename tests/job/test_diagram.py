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


def arrows() -> list[tuple[Mode, Mode, str]]:
    """Every arrow with the intents beside it, those to the choice "next" drawn out."""
    drawn = mermaid()
    ways = [Mode[to.upper()] for to in re.findall(r"^    next --> (\w+)$", drawn, re.MULTILINE)]
    found = re.findall(r"^    (\w+) --> (\w+) : (.+)$", drawn, re.MULTILINE)
    return [
        (Mode[origin.upper()], end, names)
        for origin, to, names in found
        for end in (ways if to == "next" else [Mode[to.upper()]])
    ]


def test_every_arrow_is_in_the_table() -> None:
    """Each arrow stands for rows of the table that may lead there; the release has stops only."""
    assert [(origin, names) for origin, to, names in arrows() if to is Mode.RELEASED] == [
        (Mode.STOP, "read_back"),
        (Mode.STOP_SECOND, "read_back"),
    ]
    for origin, to, names in arrows():
        for name in names.split(", "):
            assert to in TABLE[origin, name].to


def test_every_own_row_is_drawn() -> None:
    """Every mode but the last has a way out, and every mode but the first a way in."""
    assert {to for _, to, _ in arrows()} >= set(Mode) - {
        Mode.NEW,  # where a job begins
        Mode.STAND_BY,  # reached from nearly everywhere, named in the text beside the drawing
        Mode.NOTE,
        Mode.TROUBLE_KIND,
    }
    assert {origin for origin, _, _ in arrows()} == set(Mode) - {Mode.RELEASED}
