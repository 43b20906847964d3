"""The dialogue as a diagram, drawn from the transition table: `python -m assistant.job.diagram`."""

from __future__ import annotations

import sys

from assistant.job.state import Mode
from assistant.job.table import ALARMS, BASES, DICTATION, EXCHANGES, QUESTIONS, RESUMED, TABLE

_LEFT_OUT = {*QUESTIONS, *ALARMS, "quiet", "start_timer", "stand_by", "freeze", "report_trouble"}
_LEFT_OUT |= {"take_note", "disregard", RESUMED}


def mermaid() -> str:
    """A Mermaid state diagram of every mode's own transitions.

    What can be said nearly always (questions, pauses, alarms, notes, "disregard") is left out
    of the drawing; the text beside it in DEVELOPERS.md names it.
    """
    edges: dict[tuple[Mode, Mode], list[str]] = {}
    for (mode, name), rule in TABLE.items():
        always = mode in BASES | EXCHANGES | DICTATION and name in _LEFT_OUT
        if always or name in QUESTIONS or name in ALARMS or name == RESUMED:
            continue
        for to in rule.to:
            edges.setdefault((mode, to), []).append(name)
    lines = ["stateDiagram-v2"]
    lines.extend(f"    {_id(mode)} : {mode.value}" for mode in Mode)
    order = list(Mode)
    for (mode, to), names in sorted(
        edges.items(), key=lambda edge: (order.index(edge[0][0]), order.index(edge[0][1]))
    ):
        lines.append(f"    {_id(mode)} --> {_id(to)} : {', '.join(sorted(set(names)))}")
    return "\n".join(lines)


def _id(mode: Mode) -> str:
    return mode.name.lower()


if __name__ == "__main__":
    sys.stdout.write(mermaid() + "\n")
