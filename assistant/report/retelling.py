"""A job told again from its record alone: who said what, in order, and what sound is kept of it."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import islice
from pathlib import Path
from typing import Any

from assistant.job.effects import Say
from assistant.job.events import Dictated, Event, Heard, Unclear
from assistant.job.machine import advance
from assistant.job.state import JobState, Mode, Setting
from assistant.language.wording import NotSpeakable, for_ear
from assistant.opening import setting_from_record, words_of
from assistant.record.audit import verified
from assistant.record.chain import Chain
from assistant.record.entry import Entry
from assistant.record.folder import JOURNAL
from assistant.record.keeper import events_in, header_in
from assistant.report.texts import SpokenTexts, spoken_texts
from assistant.words import Words

SAID = "said"
_DUE = 16  # far more than one event has the assistant say
_SECOND = frozenset({Mode.STOP_SECOND, Mode.SECOND_PERSON})


@dataclass(frozen=True, slots=True)
class Told:
    """One entry of a record that was heard in the shop, or typed there.

    Attributes:
        n: number of the entry.
        wall: its time, as the record has it.
        who: display name of who speaks.
        section: title of the section that it belongs to.
        text: what was said, as the screen showed it; lines are divided by a newline.
        after_s: seconds since the entry before, by the record's wall clock; never negative.
        assistant: whether the assistant speaks.
        words: what the voice is to say again; empty for a person, or where it has no words.
        slowly: the assistant spoke slowly.
        clip: the kept sound, a name inside the record folder; None where none is kept.
        absent: why there is no sound: "typed", "key" or "not-kept" of a reply, "no-words" of a
            prompt; empty where there is sound.
    """

    n: int
    wall: str
    who: str
    section: str
    text: str
    after_s: float
    assistant: bool = False
    words: str = ""
    slowly: bool = False
    clip: str | None = None
    absent: str = ""


def retell(folder: Path) -> Iterator[Told]:
    """Every prompt and every reply of a job, one at a time.

    The state is replayed beside the entries, which tells the section, who has the job, and the
    exact words of a prompt. A prompt that this program would word otherwise is told as the
    record has it. Memory grows neither with prompts nor with sound.

    Raises:
        RecordDamaged: the record doesn't verify, or holds no job.
    """
    verified(folder)
    with (folder / JOURNAL).open("rb") as file:
        entries = iter(Chain(file, folder.name, moved=True))
        header = header_in(folder.name, [*islice(entries, 1)])
        teller = _Teller(
            folder,
            setting_from_record(folder, header),
            words_of(header.language),
            spoken_texts(header.language),
        )
        for entry in entries:
            yield from teller.entry(entry)


class _Teller:
    """Follows a job through its entries."""

    def __init__(self, folder: Path, setting: Setting, words: Words, texts: SpokenTexts) -> None:
        self._folder = folder
        self._setting = setting
        self._words = words
        self._texts = texts
        self._state = JobState()
        self._due: deque[Say] = deque(maxlen=_DUE)  # asked for, not yet found as said
        self._section = ""
        self._last = ""

    def entry(self, entry: Entry) -> Iterator[Told]:
        """What is heard of an entry: nothing, or one thing."""
        if entry.kind == SAID:
            yield self._prompt(entry)
            return
        for event in events_in(self._folder.name, [entry]):
            if isinstance(event, Heard | Unclear | Dictated):
                yield self._reply(entry, event)
            self._state, effects = advance(self._setting, self._state, event)
            self._due.extend(effect for effect in effects if isinstance(effect, Say))

    def _prompt(self, entry: Entry) -> Told:
        data: dict[str, Any] = dict(entry.data)
        lines = [str(text) for text in data["lines"]]
        words, slowly = self._aloud(lines)
        told = self._told(entry, self._texts.assistant, "\n".join(lines))
        absent = "" if words else "no-words"
        return replace(told, assistant=True, words=words, slowly=slowly, absent=absent)

    def _aloud(self, lines: list[str]) -> tuple[str, bool]:
        """The words of a prompt for the voice, empty where it has none; whether said slowly."""
        slowly = False
        try:
            for said in self._due:
                if [self._words.shown(one) for one in said.lines] == lines:
                    slowly = said.slowly
                    self._due.remove(said)
                    return " ".join(map(self._words.spoken, said.lines)), slowly
            words = " ".join(for_ear(text, self._words.wording) for text in lines)
        except NotSpeakable:  # somebody's name, as a rule; the text is in the captions
            return "", slowly
        return (words if any(sign.isalpha() for sign in words) else ""), slowly

    def _reply(self, entry: Entry, event: Heard | Unclear | Dictated) -> Told:
        second = self._state.second if self._state.mode in _SECOND else None
        clip = event.clip.file if event.clip and self._kept(event.clip.file) else None
        who = self._setting.name_of(second or self._state.who)
        told = self._told(entry, who, self._text(event))
        return replace(told, clip=clip, absent="" if clip else _absent(event))

    def _kept(self, file: str) -> bool:
        return (self._folder / file).is_file()

    def _text(self, event: Event) -> str:
        if isinstance(event, Heard):
            return event.intent.phrase
        if isinstance(event, Unclear):
            return self._texts.unclear.format(text=event.text or "…")
        if isinstance(event, Dictated):
            return event.text or self._texts.dictated.format(seconds=round(event.seconds))
        return ""

    def _told(self, entry: Entry, who: str, text: str) -> Told:
        step = self._state.step(self._setting)
        self._section = step.section_title if step is not None else self._section
        after = max(0.0, _seconds(entry.wall) - _seconds(self._last or entry.wall))
        self._last = entry.wall
        return Told(entry.n, entry.wall, who, self._section, text, after)


def _absent(event: Heard | Unclear | Dictated) -> str:
    if isinstance(event, Heard) and event.via != "voice":
        return event.via
    if isinstance(event, Dictated) and event.clip is None and event.text:
        return "typed"
    return "not-kept"


def _seconds(wall: str) -> float:
    return datetime.fromisoformat(wall).timestamp()
