"""What was meant: the name of an intent and its filled slots."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum


class Cost(StrEnum):
    """How dear a mishearing is; acceptance is stricter the dearer it is."""

    QUESTION = "question"
    CONTROL = "control"
    VALUE = "value"
    CONFIRMATION = "confirmation"
    READ_BACK = "read-back"


@dataclass(frozen=True, slots=True)
class Intent:
    """One thing said.

    Attributes:
        name: the intent's name in the phrasebook, for example "step_done".
        slots: (slot, value) pairs in spoken order; values are canonical text: numbers as
            `trade.quantity.number_text` writes them ("22", "9/16", "12.4"), units as their
            symbol ("N·m"), digits as figures ("73"), names and parts as their id.
        phrase: the words as they were matched, normalised.
    """

    name: str
    slots: tuple[tuple[str, str], ...] = ()
    phrase: str = ""

    def get(self, slot: str) -> str | None:
        """The value of a slot, or None when it wasn't said."""
        return dict(self.slots).get(slot)
