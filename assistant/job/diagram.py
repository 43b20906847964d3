"""The dialogue as a diagram, drawn from the transition table: `python -m assistant.job.diagram`."""

from __future__ import annotations

import sys

from assistant.job.state import Mode
from assistant.job.table import (
    ALARMS,
    BASES,
    DICTATION,
    EXCHANGES,
    ONWARD,
    QUESTIONS,
    RESUMED,
    TABLE,
)

_LEFT_OUT = {*QUESTIONS, *ALARMS, "quiet", "start_timer", "stand_by", "freeze", "report_trouble"}
_LEFT_OUT |= {"take_note", "disregard", RESUMED}


def mermaid() -> str:
    """A Mermaid state diagram of every mode's own transitions.

    What can be said nearly always (questions, pauses, alarms, notes, "disregard") is left out
    of the drawing; the text beside it in DEVELOPERS.md names it. Where `flow.go_on` decides by
    the state what opens next, the arrow goes to the choice "next".
    """
    edges: dict[tuple[str, str], set[str]] = {}
    for (mode, name), rule in TABLE.items():
        always = mode in BASES | EXCHANGES | DICTATION and name in _LEFT_OUT
        if always or name in QUESTIONS or name in ALARMS or name == RESUMED:
            continue
        for to in _targets(rule.to):
            edges.setdefault((_id(mode), to), set()).add(name)
    lines = ["stateDiagram-v2", "    state next <<choice>>"]
    lines.extend(f"    {_id(mode)} : {mode.value}" for mode in Mode)
    lines.extend(f"    next --> {_id(mode)}" for mode in Mode if mode in ONWARD)
    order = {name: place for place, name in enumerate([*map(_id, Mode), "next"])}
    for (mode_id, to), names in sorted(
        edges.items(), key=lambda edge: (order[edge[0][0]], order[edge[0][1]])
    ):
        lines.append(f"    {mode_id} --> {to} : {', '.join(sorted(names))}")
    return "\n".join(lines)


def _targets(modes: frozenset[Mode]) -> list[str]:
    """Ids of the modes, with those that `go_on` chooses among drawn as one choice."""
    if not modes >= ONWARD:
        return [_id(mode) for mode in modes]
    return ["next", *(_id(mode) for mode in modes - ONWARD)]


def _id(mode: Mode) -> str:
    return mode.name.lower()


if __name__ == "__main__":
    sys.stdout.write(mermaid() + "\n")
