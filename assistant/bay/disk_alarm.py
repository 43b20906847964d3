"""The record can't be written: nothing counts until it can, and that is said (I6)."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from assistant.errors import JournalUnwritable
from assistant.job.effects import Line, line
from assistant.ports import Ports
from assistant.words import Words

_AGAIN_S: Final = 15.0
"""How often the alarm is repeated while nobody says or types anything, seconds."""


class DiskAlarm:
    """Goes on when a write fails, and off when one works again.

    Args:
        ports: keeper, clock and screen are used.
        words: of the job's language.
        speak: says words aloud.
    """

    def __init__(self, ports: Ports, words: Words, speak: Callable[[list[str]], None]) -> None:
        self.on = False
        self._ports = ports
        self._words = words
        self._speak = speak
        self._warned = 0.0

    def sound(self, problem: JournalUnwritable) -> None:
        """Say that nothing counts."""
        self.on = True
        self._warned = self._ports.clock.mono()
        self._tell(line("journal.failed"), f" ({problem})")

    def over(self, anything: Callable[[], bool], drop_typed: Callable[[], object]) -> bool:
        """Try the disk; while it refuses, what is said or typed is answered with the alarm.

        Args:
            anything: waits a little; whether anything was said or typed meanwhile.
            drop_typed: forgets what has been typed meanwhile.

        Returns:
            Whether the record can be written again; that has been said then.
        """
        try:
            self._ports.keeper.retry()
        except JournalUnwritable as problem:
            due = self._ports.clock.mono() - self._warned >= _AGAIN_S
            if anything() or due:
                self.sound(problem)
            return False
        drop_typed()
        self.on = False
        self._tell(line("journal.back"))
        return True

    def _tell(self, said: Line, more: str = "") -> None:
        self._ports.show(f"{self._words.shown(said)}{more}")
        self._speak([self._words.spoken(said)])
