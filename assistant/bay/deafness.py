"""What is told when nobody can be heard: once, without nagging, and once when that is over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from assistant.job.effects import Line, line

_SELDOM_S: Final = 600.0
"""A noisy hour is told aloud once in ten minutes; the screen shows it each time."""


@dataclass(frozen=True, slots=True)
class Told:
    """A line to show, and whether to say it too."""

    line: Line
    aloud: bool


class Deafness:
    """Follows why nobody can be heard."""

    def __init__(self) -> None:
        self._why: str | None = None
        self._aloud = False
        self._aloud_at: dict[str, float] = {}

    def noticed(self, reason: str, now: float) -> Told | None:
        """What there is to tell.

        Args:
            reason: of the ear's `Nothing`, or "heard".
            now: seconds on a clock that never steps back.
        """
        if reason in ("stopped", "ended"):  # says nothing about whether anybody can be heard
            return None
        lines = _lines()
        why = reason if reason in lines else None
        if why == self._why:
            return None
        self._why = why
        if why is None:
            return Told(line("microphone.back"), self._aloud)
        last = self._aloud_at.get(why)
        self._aloud = why != "noise" or last is None or now - last >= _SELDOM_S
        if self._aloud:
            self._aloud_at[why] = now
        return Told(lines[why], self._aloud)


def _lines() -> dict[str, Line]:
    return {
        "lost": line("microphone.lost"),
        "dead": line("microphone.dead"),
        "noise": line("hearing.noise"),
    }
