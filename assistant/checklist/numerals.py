"""Numbers in a step's text that nothing explains: "tighten to 22" says 22 of what?"""

from __future__ import annotations

import re
from typing import Final

from assistant.trade.quantity import UNITS

# A number that stands by itself: not part of M8, T27, 3/8-16 or a part number.
_NUMBER = re.compile(r"(?<![\w./#×-])\d+(?:\.\d+|/\d+)?(?: \d+/\d+)?(?![\w/×-])")
_UNIT = re.compile(
    "|".join(
        re.escape(name)
        for name in sorted(
            (n for u in UNITS for n in (u.symbol, *u.aliases)), key=len, reverse=True
        )
    )
    + "|%|×"
)
# After these words a number is a name or a place in an order, not an amount.
_NAMED_BEFORE = re.compile(
    r"(?:\b(?:class|connector|figure|fuse|gear|grade|mark|number|page|pin|position|sheet|size|"
    r"stage|step|stop)|\b[A-Z][A-Z-]*)\s$"
)
# "two to 3 mm", "4 and 5 mm": the unit follows the second number.
_SHARED_UNIT = re.compile(r"\s*(?:to|and|or|by|-|–)\s*(?:about\s+)?(?=\d)")
# A noun after the number is what it counts; these little words are none.
_NO_NOUN: Final = frozenset(
    {"a", "an", "and", "as", "at", "by", "for", "from", "if", "into", "is", "of", "on", "or",
     "so", "the", "then", "to", "until", "when", "with"}
)  # fmt: skip


def numbers_without_unit(text: str) -> tuple[str, ...]:
    """The numbers in a text that have no unit, no noun they count, and name nothing."""
    return tuple(
        found[0]
        for found in _NUMBER.finditer(text)
        if not _NAMED_BEFORE.search(text[: found.start()]) and not _explained(text, found.end())
    )


def _explained(text: str, end: int) -> bool:
    shared = _SHARED_UNIT.match(text, end)
    if shared is not None:
        second = _NUMBER.match(text, shared.end())
        return second is None or _explained(text, second.end())
    rest = text[end:].lstrip()
    unit = _UNIT.match(rest)
    if unit is not None and not rest[unit.end() : unit.end() + 1].isalpha():
        return True
    noun = re.match(r"[^\W\d_]+", rest)
    return noun is not None and noun[0].lower() not in _NO_NOUN
