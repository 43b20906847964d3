"""Every stop passed has its own fresh read-back: judged from what happened and what was said.

Knows nothing of the product's rules: only the events, the lines that were said after each, and
the safety texts as they lie in the package. What it holds the job to stands in the texts of the
stops and the invariants of the product (I3, I10).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any

import yaml

from assistant.job.effects import Line
from assistant.job.events import Dictated, Event, Heard, Opened, Resumed, Tick, Unclear
from assistant.job.state import Done, Passed

OLDEST = 120.0
"""Seconds that a number is good for: the product's own figure, written down once more."""
_REPEATS = ("say_again", "say_again_slowly")
_SMALL_TALK = {"quiet", "start_timer"}


@cache
def read_back_words() -> Mapping[str, str]:
    """Words of every read-back by its key, straight from the packaged file."""
    text = resources.files("assistant.safety").joinpath("data/en/stops.yaml").read_text("utf-8")
    found = yaml.safe_load(text)
    words = {key: stop["read_back"] for key, stop in found["stops"].items()}
    return {**words, "second_person": found["second_person"], "freeze": found["freeze"]}


@cache
def questions() -> frozenset[str]:
    """Intents that only ask, straight from the packaged phrasebook."""
    text = resources.files("assistant.language").joinpath("data/en/phrasebook.yaml")
    intents: dict[str, Any] = yaml.safe_load(text.read_text("utf-8"))["intents"]
    return frozenset(name for name, entry in intents.items() if entry["cost"] == "question")


@dataclass(frozen=True, slots=True)
class Ask:
    """A number that was said, the words that were asked for, and of whom."""

    number: str
    words: str
    at: float
    second: str = ""


@dataclass(slots=True)
class ReadBacks:
    """Follows one job and judges what it claims.

    Attributes:
        roster: person id -> display name.
        apprentices: ids of those whose stops a second person reads back too.
        who: who does the work, by what was said.
        answered: the ask that the last event answered rightly.
        first: an apprentice's own right answer, until something else comes.
    """

    roster: Mapping[str, str]
    apprentices: frozenset[str]
    who: str = ""
    ask: Ask | None = None
    answered: Ask | None = None
    first: Ask | None = None
    last_number: str = ""
    offered: str = ""

    def copy(self) -> ReadBacks:
        """The same, to go on from here more than once."""
        return replace(self)

    def saw(self, event: Event, said: Sequence[Line]) -> None:
        """One event and what was said after it."""
        self.answered = None
        attempt = isinstance(event, Heard) and event.intent.name == "read_back"
        if attempt and isinstance(event, Heard):
            self._attempted(event)
        elif not _only_talk(event, said):
            self.ask, self.first = None, None
        if not repeats(event):
            self._people(event, said)
            self._numbers(event.at.mono, said)

    def _attempted(self, event: Heard) -> None:
        """A number takes one answer; what comes after that needs another number."""
        ask, self.ask = self.ask, None
        key, number = event.intent.get("read_back"), event.intent.get("challenge")
        right = (
            ask is not None
            and ask.number == number
            and ask.words == read_back_words().get(key or "")
            and event.at.mono - ask.at <= OLDEST
        )
        self.answered = ask if right else None
        if self.answered is not None and key != "second_person":
            self.first = self.answered

    def _people(self, event: Event, said: Sequence[Line]) -> None:
        if isinstance(event, Opened | Resumed):
            self.who = event.who
        keys = {line.key for line in said}
        if "hand_over.ask" in keys and isinstance(event, Heard):
            self.offered = event.intent.get("name") or ""
        elif "hand_over.done" in keys:
            assert isinstance(event, Heard)
            assert event.intent.name == "affirm"
            self.who = self.offered

    def _numbers(self, at: float, said: Sequence[Line]) -> None:
        second = ""
        number = ""
        for line in said:
            values = dict(line.values)
            if line.key in ("second.ask", "stop.second"):
                second = values["name"]
            elif line.key == "stop.number":
                number = values["first"] + values["second"]
            elif line.key == "stop.words":
                assert number, "words are asked for without a number"
                assert number != self.last_number, "the same number twice in a row"
                if not second and values["words"] == read_back_words()["second_person"]:
                    second = self._asked_before
                self._asked_before = second
                self.ask = Ask(number, values["words"], at, second)
                self.last_number = number

    _asked_before: str = ""

    def passed(self, entry: Passed) -> None:
        """The job claims that a stop was passed by the event just seen."""
        answered, words = self.answered, read_back_words()
        assert answered is not None, f"{entry.stop} passed without a read-back of its own"
        assert entry.who == self.who
        if entry.second is None:
            assert self.who not in self.apprentices, "an apprentice's stop without a second person"
            assert answered.words == words[entry.stop]
            assert answered.number == entry.number
            return
        assert self.who in self.apprentices
        self._by_second(answered, entry.second)
        assert answered.number == entry.second_number
        assert self.first is not None, f"{entry.stop} passed by the second person alone"
        assert self.first.words == words[entry.stop]
        assert self.first.number == entry.number != entry.second_number
        self.first = None

    def done(self, entry: Done) -> None:
        """The job claims that a step was confirmed; a second person's word needs a read-back."""
        if entry.second is not None:
            assert self.answered is not None, f"{entry.step}: the second person said nothing"
            self._by_second(self.answered, entry.second)

    def _by_second(self, answered: Ask, second: str) -> None:
        assert answered.words == read_back_words()["second_person"]
        assert second != self.who, "the second person is the first"
        assert answered.second == self.roster[second] != self.roster[self.who]

    def unfrozen(self) -> None:
        """The job claims that a freeze was ended by the event just seen."""
        assert self.answered is not None, "a freeze ended without its read-back"
        assert self.answered.words == read_back_words()["freeze"]


def repeats(event: Event) -> bool:
    """Whether what is said after it was said before: nothing in it is new."""
    return isinstance(event, Heard) and event.intent.name in _REPEATS


def _only_talk(event: Event, said: Sequence[Line]) -> bool:
    """What may come between a number and its read-back: questions, noise, and what is refused."""
    if isinstance(event, Unclear | Tick):
        return True
    if [line.key for line in said] == ["refused.not_now"]:
        return True
    if isinstance(event, Dictated | Opened | Resumed):
        return False
    return event.intent.name in questions() | _SMALL_TALK
