"""What the trade's arithmetic finds in a checklist: each finding says its figures and their source.

The maker's value always wins. What is found here is implausible by published tables; a
fastener that is not as the standards have it says so (`special`) and is not compared with them.
"""

from __future__ import annotations

from assistant.checklist.fit_sense import fit_findings
from assistant.checklist.fluid_sense import fluid_findings
from assistant.checklist.loader import Loaded
from assistant.checklist.places import places
from assistant.checklist.reading_sense import reading_findings
from assistant.checklist.strength_sense import strength_findings
from assistant.checklist.torque_sense import torque_findings
from assistant.checklist.trade_words import TradeWords
from assistant.errors import Finding
from assistant.trade.tables import Tables


def findings(loaded: Loaded, tables: Tables, words: TradeWords) -> tuple[Finding, ...]:
    """Everything implausible in a loaded checklist, in the order of its lines.

    Args:
        loaded: the checklist.
        tables: the trade's tables.
        words: the trade's words in the checklist's language.
    """
    steps = tuple(places(loaded))
    found = [*fit_findings(steps, tables, words), *fluid_findings(steps, tables, words)]
    for place in steps:
        found.extend(strength_findings(place, tables, words))
        found.extend(torque_findings(place, words))
        found.extend(reading_findings(place, tables, words))
    order = {source.file: number for number, source in enumerate(loaded.sources)}
    unique = dict.fromkeys(found)
    return tuple(sorted(unique, key=lambda f: (order.get(f.file, len(order)), f.line)))
