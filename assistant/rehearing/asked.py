"""What an archived job asks to be heard again: each clip with what was admitted at its moment."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import islice
from pathlib import Path
from typing import Any

from assistant.job.admit import admitted, fillers, fractions
from assistant.job.events import Dictated, Event, Heard, Unclear
from assistant.job.machine import advance
from assistant.job.serial import KINDS
from assistant.job.state import JobState, Setting
from assistant.job.table import DICTATION
from assistant.opening import setting_from_record
from assistant.record.audit import verified
from assistant.record.keeper import events_in, header_in
from assistant.record.reading import stream_entries

REMOVED, NOT_KEPT, FREE = "removed", "not_kept", "free_speech"
"""Why a reply is not heard again: its sound was removed by the shop's rule; it never was kept; it
was free speech, which no phrases are listened for in."""

Filled = tuple[tuple[str, tuple[tuple[str, tuple[str, ...]], ...]], ...]


@dataclass(frozen=True, slots=True)
class Phrases:
    """What could be said at one moment; enough to build its grammar anew, anywhere.

    Attributes:
        language: of the job.
        names: of the intents, sorted.
        filled: (slot, ((value, ways to say it), ...)) as the state fills them.
        fractions: whether a number could be a fraction.
    """

    language: str
    names: tuple[str, ...]
    filled: Filled
    fractions: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """One clip to be heard again.

    Attributes:
        job: its id.
        n: number of the entry.
        entry: hash of the entry, which stands for the job and all before it too.
        clip: the sound's name inside the record.
        phrases: admitted when it was said.
        then: what was made of it: text, intent, slots, verdict.
    """

    job: str
    n: int
    entry: str
    clip: str
    phrases: Phrases
    then: dict[str, Any]


def asked_of(folder: Path, left: Counter[str]) -> Iterator[Asked]:
    """Every clip of a record that can be heard again, in order; the record is only read.

    The state is replayed beside the entries, so that the phrases are those of the moment. A reply
    that was given between two turns (with a headset, or before the answer had sounded) was heard
    among fewer phrases then; here it is heard among all that the state admits.

    Args:
        folder: the record.
        left: what is not heard again is counted here.

    Raises:
        RecordDamaged: the record doesn't verify, or holds no job.
    """
    checked = verified(folder)
    removed = frozenset(gone.file for gone in checked.removed)
    entries = stream_entries(folder)
    header = header_in(folder.name, [*islice(entries, 1)])
    job = checked.job or folder.name
    setting, state = setting_from_record(folder, header), JobState()
    for entry in entries:
        if entry.kind not in KINDS:
            continue
        (event,) = events_in(job, [entry])
        clip = _clip(event, state, removed, left)
        if clip is not None:
            phrases = phrases_of(setting, state, header.language)
            yield Asked(job, entry.n, entry.hash, clip, phrases, _then(event))
        state, _ = advance(setting, state, event)


def phrases_of(setting: Setting, state: JobState, language: str) -> Phrases:
    """What may be said in a state."""
    filled = fillers(setting, state)
    return Phrases(
        language,
        tuple(sorted(admitted(setting, state))),
        tuple((slot, tuple(values.items())) for slot, values in filled.items()),
        fractions(setting, state),
    )


def _clip(event: Event, state: JobState, removed: frozenset[str], left: Counter[str]) -> str | None:
    """The clip to hear again; where there is none, why is counted."""
    if isinstance(event, Dictated):  # what was typed has its text
        left[FREE] += not (event.clip is None and event.text)
        return None
    if not isinstance(event, Heard | Unclear):
        return None
    if isinstance(event, Heard) and event.via != "voice":
        return None
    if state.mode in DICTATION:  # its sound is the note that it ended
        left[FREE] += 1
    elif event.clip is None:
        left[NOT_KEPT] += 1
    elif event.clip.file in removed:
        left[REMOVED] += 1
    else:
        return event.clip.file
    return None


def _then(event: Event) -> dict[str, Any]:
    if isinstance(event, Heard):
        return outcome(event.intent.phrase, event.intent.name, event.intent.slots, "accepted")
    text = event.text if isinstance(event, Unclear) else ""
    return outcome(text, None, (), "unclear")


def outcome(
    text: str, intent: str | None, slots: tuple[tuple[str, str], ...], verdict: str
) -> dict[str, Any]:
    """What was made of a clip, as plain data."""
    return {
        "text": text,
        "intent": intent,
        "slots": [list(pair) for pair in slots],
        "verdict": verdict,
    }


def acted_on(made: Mapping[str, Any]) -> tuple[Any, ...] | None:
    """What an outcome would have had done; None when nothing, because it is asked again."""
    if made["verdict"] != "accepted":
        return None
    return (made["intent"], *map(tuple, made["slots"]))
