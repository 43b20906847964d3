"""A rehearsal without sound: the ear hears what is said, or what a test has it hear instead."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from pathlib import Path
from typing import cast

import numpy as np

from assistant import shelf
from assistant.checklist.loader import Loaded
from assistant.checklist.model import OptionValue
from assistant.hearing.ear import Heard, Nothing, Speech
from assistant.hearing.lines import Grammar
from assistant.hearing.room import Room
from assistant.opening import OpenJob, open_job
from assistant.rehearsal.cast import Cast
from assistant.rehearsal.play import Rehearsal, RehearsalClock, WatchedEar
from assistant.rehearsal.script import Script, load_script
from assistant.speaking.file_mouth import FileMouth
from assistant.speaking.speech import Speech as Sound
from assistant.testing import ScriptedEar

DEMO = Path(__file__).parents[2] / "assistant/rehearsal/data/en/raised-handlebar.yaml"


def demo() -> Script:
    """The script of the demo job."""
    return load_script(DEMO.read_text(encoding="utf-8"), DEMO.name)


def loaded(checklist: str) -> Loaded:
    """A checklist that came with the program."""
    return shelf.load_checklist(shelf.find_checklist(checklist))


def opened(
    jobs: Path,
    checklist: str,
    script: Script,
    clock: RehearsalClock,
    options: dict[str, OptionValue] | None = None,
) -> OpenJob:
    """A job of this checklist, begun on the disk by this clock."""
    roster = {person: known.name for person, known in script.people.items()}
    chosen: dict[str, OptionValue] = {**script.options, **(options or {})}
    now = (clock.wall(), clock.mono())
    return open_job(loaded(checklist), chosen, roster, now=now, engine="echo", jobs=jobs, job="one")


_SOUND = np.tile(np.array([3000, -3000], dtype="<i2"), 800).tobytes()
"""A tenth of a second."""


class QuickVoice:
    """Renders words as a short buzz."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def render(self, words: str, *, slowly: bool = False) -> Sound:
        """A tenth of a second, whatever the words."""
        del slowly
        self.said.append(words)
        return Sound(_SOUND, 16_000)

    def ahead(self, texts: object) -> None:
        """Nothing to do."""

    def close(self) -> None:
        """Nothing to give back."""


class Stage:
    """Cast and ear in one: what the cast says is what the ear hears.

    Attributes:
        lines: everything said, with who said it.
        instead: a line -> what is heard in its place, each used once.
    """

    def __init__(self) -> None:
        self.lines: list[tuple[str, str]] = []
        self.instead: dict[str, deque[str]] = {}

    def mishear(self, line: str, *heard: str) -> None:
        """Have these heard in place of this line, the next times it is said."""
        self.instead[line] = deque(heard)

    def line(self, who: str, words: str) -> bytes:
        """See `Cast`."""
        self.lines.append((who, words))
        return _SOUND

    def heard(self) -> str:
        """What reaches the ear now."""
        words = self.lines[-1][1]
        others = self.instead.get(words)
        return others.popleft() if others else words


class EchoEar(WatchedEar):
    """A watched ear that needs neither sound nor recogniser."""

    def __init__(self, stage: Stage) -> None:  # the parts of a real ear are not there
        self.stage = stage
        self.last = None

    def hear(
        self,
        grammar: Grammar,
        patience_s: float | None = None,
        going: Callable[[], bool] | None = None,
    ) -> Heard | Nothing:
        """See `Ear`."""
        del patience_s, going
        if not self.stage.lines:
            return Nothing("silence")
        heard = ScriptedEar(self.stage.heard()).hear(grammar)
        self.last = heard if isinstance(heard, Heard) else None
        return heard

    def interjected(self, grammar: Grammar) -> Heard | Nothing:
        """See `Ear`."""
        del grammar
        return Nothing("silence")

    def goes_on(self, closing: Grammar) -> Heard | Nothing:
        """See `Ear`."""
        return self.interjected(closing)

    def record_speech(
        self,
        closing: Grammar,
        until_silence_s: float = 8.0,
        longest_s: float = 120.0,
        first: Heard | None = None,
    ) -> Speech:
        """See `Ear`."""
        del until_silence_s, longest_s, first
        spoken = (words for _, words in self.stage.lines[-2:])
        return ScriptedEar(*spoken).record_speech(closing)

    def deafen(self) -> None:
        """See `Ear`."""

    def listen_again(self, guard_s: float = 0.3) -> None:
        """See `Ear`."""


def rehearsal(
    job: OpenJob, script: Script, stage: Stage, clock: RehearsalClock
) -> tuple[Rehearsal, list[str]]:
    """A rehearsal of this job on this stage, and what is shown of it."""
    shown: list[str] = []
    played = Rehearsal(
        job,
        script,
        cast=cast("Cast", stage),
        ear=EchoEar(stage),
        room=Room(),
        mouth=FileMouth(QuickVoice()),  # type: ignore[arg-type] # a voice without a process
        clock=clock,
        show=shown.append,
    )
    return played, shown
