"""The tools that a step names in one line: "17 mm socket, drain pan" is a socket and a pan."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

MANNERS: Final[Mapping[str, tuple[str, ...]]] = {
    "en": ("long", "short", "long arm", "short arm", "square to the handle"),
}
"""By language, what follows a comma and tells of the tool before it; common practice, no source.

Anything else after a comma is a tool of its own: one too many on the tray costs nothing, one too
few costs a trip with gloves on.
"""

_BETWEEN: Final = re.compile(r"\s*[,;]\s+")


def named_tools(text: str, language: str) -> tuple[str, ...]:
    """Every tool that a line names, in its order, each with what is told of it.

    Args:
        text: a driver as its author wrote it, such as "8 mm hex bit, long; damper tool".
        language: of the checklist.
    """
    manners = MANNERS.get(language, ())
    tools: list[str] = []
    for part in filter(None, _BETWEEN.split(text.strip())):
        if tools and part.lower() in manners:
            tools[-1] = f"{tools[-1]}, {part}"
        else:
            tools.append(part)
    return tuple(tools)
