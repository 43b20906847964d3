"""What became of something that sounded while a read-back was waited for."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from assistant.hearing.ear import Heard
from assistant.job.events import Event, Unclear
from assistant.job.events import Heard as HeardEvent
from assistant.job.state import JobState, Mode


@dataclass(frozen=True, slots=True)
class Try:
    """One thing that sounded at a read-back.

    Attributes:
        place: which read-back was waited for.
        case: which kind of try.
        sound: what sounded, in words.
        asked: the number that was live.
        passed: whether the read-back was taken for given.
        verdict: see `verdict`.
        fresh: whether another number is live now.
        heard: each utterance as `told` puts it.
        nearest: see `nearest`.
        pcm: the sound, 16 kHz mono s16le.
    """

    place: str
    case: str
    sound: str
    asked: str
    passed: bool
    verdict: str
    fresh: bool
    heard: tuple[str, ...]
    nearest: float
    pcm: bytes


def told(heard: Heard) -> str:
    """An utterance: the engine's words, its confidence, and what was missing."""
    missing = f"; {heard.why}" if heard.why else ""
    return f"{heard.text or '-'} ({heard.confidence:.2f}{missing})"


def nearest(words: str, heard: Sequence[Heard]) -> float:
    """The highest confidence of an utterance that was these words to the engine, or 0."""
    return max((each.confidence for each in heard if each.text == words), default=0.0)


def passed(before: JobState, after: JobState) -> bool:
    """Whether a stop was passed, a step confirmed, or a freeze ended."""
    thawed = before.mode is Mode.FROZEN and after.mode is not Mode.FROZEN
    return thawed or before.passed != after.passed or before.progress.done != after.progress.done


def verdict(
    place: str, asked: str, before: JobState, after: JobState, events: Iterable[Event]
) -> str:
    """What the job made of it.

    Returns:
        "passed"; "wrong number" or "wrong words", when it was taken for an answer; the names of
        other intents that were acted on; "not understood", when it was asked again; "nothing".
    """
    if passed(before, after):
        return "passed"
    events = list(events)
    heard = [event for event in events if isinstance(event, HeardEvent)]
    others = [event.intent.name for event in heard if event.intent.name != "read_back"]
    if others:
        return f"heard as {', '.join(others)}"
    for event in heard:
        if event.intent.get("read_back") != place:
            return "wrong words"
        if event.intent.get("challenge") != asked:
            return "wrong number"
    unclear = any(isinstance(event, Unclear) for event in events)
    return "not understood" if unclear else "nothing"
