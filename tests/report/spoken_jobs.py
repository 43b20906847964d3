"""A record with prompts and sound, as a bay writes it; and a voice for tests that need none."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from assistant.checklist.loader import load
from assistant.job.effects import Say
from assistant.job.events import Clip, Dictated, Event, Heard, Opened
from assistant.job.machine import advance
from assistant.job.serial import event_kind, to_data
from assistant.job.state import JobState
from assistant.language.intent import Intent
from assistant.opening import open_job
from assistant.speaking.speech import HEARING_RATE, Speech
from tests.hearing.clips import clip
from tests.job.bench import ALL_HAZARDS, ROSTER, Bench

PHRASES: Mapping[str, str] = {
    "affirm": "affirm",
    "step_done": "step complete",
    "what_torque": "what torque",
}
"""What is said for an intent, where the fixtures have it; others are typed."""


class ToneVoice:
    """Says every word as a hum of its own length: quick, and never silent."""

    def __init__(self) -> None:
        self.said: list[tuple[str, bool]] = []

    def render(self, words: str, *, slowly: bool = False) -> Speech:
        """A fifth of a second for each word."""
        self.said.append((words, slowly))
        at = np.arange(round(0.2 * len(words.split()) * HEARING_RATE))
        return Speech.from_samples(3000 * np.sin(at / 12), HEARING_RATE)


def written(
    jobs: Path, events: list[Event], *, job: str = "one", vehicle: str = "WREN 7",
    roster: Mapping[str, str] = ROSTER, checklist: str = ALL_HAZARDS, clips: bool = True,
) -> Path:  # fmt: skip
    """The record of these events with everything that the assistant said to them.

    What is spoken of `PHRASES` has its clip; the first note is one that was typed.
    """
    opened = open_job(
        load({"small.yaml": checklist}, "small.yaml"), {}, roster,
        now=("2026-03-02T10:00:00.000Z", 1.0), engine="keys", jobs=jobs, job=job, clips=clips,
    )  # fmt: skip
    keeper, state = opened.keeper, JobState()
    for event in events:
        one = _with_sound(event, keeper.keep_clip)
        if isinstance(one, Opened):
            one = replace(one, job=job, vehicle=vehicle)
        wall = one.at.wall.replace("Z", ".000Z")
        keeper.append(event_kind(one), to_data(one), wall, one.at.mono)
        state, effects = advance(opened.setting, state, one)
        for said in effects:
            if isinstance(said, Say):
                lines = [opened.words.shown(text) for text in said.lines]
                keeper.append("said", {"lines": lines}, wall, one.at.mono)
    keeper.journal.close()
    return jobs / job


def _with_sound(event: Event, keep: object) -> Event:
    assert callable(keep)
    if isinstance(event, Heard) and event.intent.name in PHRASES:
        phrase = PHRASES[event.intent.name]
        kept: Clip | None = keep(clip(phrase))
        intent = Intent(event.intent.name, event.intent.slots, phrase)
        return replace(event, intent=intent, clip=kept)
    if isinstance(event, Heard):
        return replace(event, via="typed")
    if isinstance(event, Dictated) and not event.text:
        return replace(event, clip=keep(clip("affirm")))
    return event


def short(note: str = "") -> list[Event]:
    """The beginning of a job: two steps, a question, a note and a minute of work."""
    bench = Bench()
    bench.answer()
    bench.hear("what_torque")
    bench.hear("take_note")
    bench.dictate(text=note)
    bench.wait(120)
    bench.run_to("line-off")
    return bench.events
