"""Sealed records whose replies have sound that the test chooses."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

from assistant.checklist.loader import load
from assistant.job.events import Event, Heard, Opened, Unclear
from assistant.job.serial import event_kind, to_data
from assistant.language.intent import Intent
from assistant.opening import open_job
from tests.hearing.clips import clip
from tests.job.bench import ALL_HAZARDS, ROSTER, Bench

SPOKEN = {"affirm": "affirm", "step_done": "step complete", "what_torque": "what torque"}
ENGINE = "pocketsphinx"


def as_meant(event: Event) -> str:
    """The sound says what was heard; what the fixtures don't have is typed."""
    return SPOKEN.get(event.intent.name, "") if isinstance(event, Heard) else ""


def one_misheard(event: Event) -> str:
    """What was heard as "affirm" was a question, and each read-back gave another number."""
    if isinstance(event, Heard) and event.intent.name == "affirm":
        return "what torque"
    if isinstance(event, Heard) and event.intent.get("read_back") == "fuel_closed":
        return "lines are on and dry one six"
    return as_meant(event)


def archived(
    jobs: Path,
    job: str,
    said: Callable[[Event], str] = as_meant,
    events: Sequence[Event] | None = None,
    *,
    clips: bool = True,
) -> Path:
    """A record of the bench's checklist, sealed.

    Args:
        jobs: the folder of jobs.
        job: its id.
        said: the words on an event's clip, "" for a reply that was typed.
        events: what happened; a whole job if left out.
        clips: whether sound is kept; what is spoken is spoken all the same.
    """
    opened = open_job(
        load({"small.yaml": ALL_HAZARDS}, "small.yaml"), {}, ROSTER,
        now=("2026-03-02T10:00:00.000Z", 1.0), engine="keys", jobs=jobs, job=job, clips=clips,
    )  # fmt: skip
    keeper, last = opened.keeper, 1.0
    for event in events or Bench().finish().events:
        one = event
        if isinstance(one, Opened):
            one = replace(one, job=job)
        if isinstance(one, Heard):
            words = said(one)
            kept = keeper.keep_clip(clip(words)) if words else None
            phrase = SPOKEN.get(one.intent.name, "")
            intent = Intent(one.intent.name, one.intent.slots, phrase)
            one = replace(one, intent=intent, via="voice" if words else "typed", clip=kept)
        elif isinstance(one, Unclear):
            one = replace(one, clip=keeper.keep_clip(clip(one.text)))
        last = one.at.mono
        keeper.append(event_kind(one), to_data(one), one.at.wall.replace("Z", ".000Z"), last)
    keeper.seal("2026-03-02T23:00:00.000Z", last + 1)
    keeper.journal.close()
    return jobs / job
