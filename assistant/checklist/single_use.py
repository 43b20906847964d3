"""Parts that go on once: crush washers, gaskets, O-rings, cotter pins.

Common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import Final

from assistant.checklist.model import Step

SINGLE_USE: Final[Mapping[str, tuple[str, ...]]] = {
    "en": ("crush washer", "sealing washer", "gasket", "o-ring", "o ring", "cotter pin"),
}
"""By language, words that name parts which only go on new."""


def names_single_use(text: str, language: str) -> bool:
    """Whether a name says that its part is good for one use."""
    return names_any(text, SINGLE_USE.get(language, ()))


def names_any(text: str, words: tuple[str, ...]) -> bool:
    """Whether one of these words stands in a text, singular or plural."""
    return any(re.search(rf"\b{re.escape(word)}(?:s|es)?\b", text, re.IGNORECASE) for word in words)


def single_use_items(steps: Iterable[Step], language: str) -> frozenset[str]:
    """Items of the off-list that only go back new: by their name, or marked as a part."""
    known = tuple(steps)
    marked = {part.name for step in known for part in step.parts if part.single_use}
    items = {gone.item for step in known for gone in step.off}
    return frozenset(i for i in items if i in marked or names_single_use(i, language))
