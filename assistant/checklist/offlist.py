"""The off-list: what has come off, been unplugged, drained or loosened, and is not back.

Pure values: taking off and putting back give a new list, or say why not.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final, Literal

How = Literal["removed", "unplugged", "drained", "loosened", "capped", "caged", "inside"]
# A loosened thing that then comes off altogether is still one thing, not two.
_FIRST_STAGE: Final[How] = "loosened"


@dataclass(frozen=True, slots=True)
class Off:
    """Something that is off.

    Attributes:
        item: its name; the same name, letter by letter, puts it back.
        count: how many of it are still off, at least 1.
        where: where it lies until then.
        mark: side or orientation captured when it came off.
        single_use: only a new one may take its place.
    """

    item: str
    count: int = 1
    how: How = "removed"
    where: str | None = None
    mark: str | None = None
    single_use: bool = False


@dataclass(frozen=True, slots=True)
class Refused:
    """Why something can't go back: nothing changed.

    Attributes:
        reason: "never-off" (no such item is off), "too-many" (fewer are off than go back), or
            "needs-new" (a single-use part; only a new one goes on).
        asked: how many were to go back.
        off: how many of the item are off.
    """

    reason: Literal["never-off", "too-many", "needs-new"]
    item: str
    asked: int
    off: int


@dataclass(frozen=True, slots=True)
class OffList:
    """Everything that is off, in the order in which it came off."""

    entries: tuple[Off, ...] = ()

    def take_off(  # noqa: PLR0913 - these are the facts of one entry
        self,
        item: str,
        count: int = 1,
        how: How = "removed",
        where: str | None = None,
        mark: str | None = None,
        *,
        single_use: bool = False,
    ) -> OffList:
        """The list with so many more of an item off.

        Loosened ones of the same name that now come off altogether are not counted again.

        Raises:
            ValueError: the count is below 1.
        """
        if count < 1:
            raise ValueError(f"{item}: {count} can't come off")
        kept = self if how == _FIRST_STAGE else self._without(item, count, _FIRST_STAGE)
        entry = Off(item, count, how, where, mark, single_use)
        return OffList((*kept.entries, entry))

    def put_back(self, item: str, count: int = 1, *, new: bool = False) -> OffList | Refused:
        """The list with so many fewer of an item off, or why they can't go back.

        Args:
            item: its name as it came off.
            count: how many go back on.
            new: new ones go on; the old ones stay off for good and are no longer missed.

        Raises:
            ValueError: the count is below 1.
        """
        if count < 1:
            raise ValueError(f"{item}: {count} can't go back")
        off = self.count_of(item)
        if off == 0:
            return Refused("never-off", item, count, 0)
        if count > off:
            return Refused("too-many", item, count, off)
        if not new and any(entry.single_use for entry in self.entries if entry.item == item):
            return Refused("needs-new", item, count, off)
        return self._without(item, count)

    def count_of(self, item: str) -> int:
        """How many of an item are off."""
        return sum(entry.count for entry in self.entries if entry.item == item)

    def open_items(self) -> tuple[Off, ...]:
        """What is off, in the order in which it came off."""
        return self.entries

    def _without(self, item: str, count: int, how: How | None = None) -> OffList:
        """The list less up to so many of an item; what came off last goes first."""
        left = count
        entries: list[Off] = []
        for entry in reversed(self.entries):
            here = min(left, entry.count) if entry.item == item and how in {None, entry.how} else 0
            left -= here
            if here < entry.count:
                entries.append(replace(entry, count=entry.count - here))
        return OffList(tuple(reversed(entries)))
