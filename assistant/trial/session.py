"""One listener hears a few clips, one after the other, as one person speaking in a shop."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from assistant.hearing.ear import Heard
from assistant.hearing.source import FRAME_S, RATE
from assistant.language.grammar import Grammar
from assistant.trial.bench import Bench
from assistant.trial.listeners import Listener, MakeListener
from assistant.trial.manifest import Row
from assistant.trial.outcome import Decision, Result, score
from assistant.trial.phrases import Phrases
from assistant.trial.sound import LEAD_S, Condition, NoiseFolder, make_scene

_PATIENCE_S: Final = 0.8
_AFTER_S: Final = 1.0
"""Room that must have been heard after a clip, so that a late beginning is not missed."""

LONGEST_SESSION: Final = 25


@dataclass(frozen=True, slots=True)
class Session:
    """Clips that one listener hears under one condition."""

    condition: Condition
    speaker: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Spent:
    """Processor time and sound of a session, in seconds.

    Attributes:
        busy_s, sound_s: all processor time, and all sound that was listened to.
        listening_s, room_s: the part while nobody spoke, before the clips.
        peak_mb: most memory of the process so far, in 10**6 bytes.
    """

    busy_s: float
    sound_s: float
    listening_s: float
    room_s: float
    peak_mb: float


def sessions_of(
    rows: Sequence[Row], conditions: Callable[[Row], Sequence[Condition]]
) -> Iterator[Session]:
    """The rows in sessions: one person, one condition, at most LONGEST_SESSION clips."""
    grouped: dict[tuple[Condition, str, bool], list[Row]] = {}
    for row in rows:
        for condition in conditions(row):
            grouped.setdefault((condition, row.speaker, row.spoken), []).append(row)
    for (condition, speaker, _), together in grouped.items():
        for at in range(0, len(together), LONGEST_SESSION):
            yield Session(condition, speaker, tuple(together[at : at + LONGEST_SESSION]))


def hear_session(
    session: Session,
    make: MakeListener,
    phrases: Phrases,
    noises: NoiseFolder | None,
    microphone: str = "",
) -> tuple[list[Result], Spent]:
    """Play the clips of a session to a new listener."""
    bench = Bench()
    listener = make(bench, session.speaker)
    results = []
    for row in session.rows:
        scene = make_scene(row, session.condition, noises, microphone)
        grammar, meant = phrases.meant(row) if row.spoken else (phrases.unrelated(), None)
        bench.play(scene)
        decisions, masked = _hear(bench, listener, grammar)
        result = score(
            row,
            session.condition,
            meant,
            decisions,
            masked=masked,
            seconds=len(scene.clip) / RATE,
            voiced_s=scene.voiced_s,
        )
        results.append(result)
    spent = Spent(
        bench.busy_s, bench.frames_played * FRAME_S, bench.listening_s, bench.leads_s, _peak_mb()
    )
    return results, spent


def _hear(bench: Bench, listener: Listener, grammar: Grammar) -> tuple[list[Decision], bool]:
    """Every utterance until the room has been heard long enough after the clip."""
    decisions: list[Decision] = []
    masked = False
    while bench.after_clip_s < _AFTER_S:
        heard = listener.hear(grammar, _PATIENCE_S)
        if isinstance(heard, Heard):
            cost = grammar.cost_of(heard.intent.name) if heard.intent else None
            decisions.append(Decision(heard, bench.done_s - LEAD_S, cost))
        else:
            masked = masked or heard.reason == "noise"
    return decisions, masked


def _peak_mb() -> float:
    try:
        import resource  # noqa: PLC0415 - not on Windows
    except ImportError:
        return 0.0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / 1e6 if sys.platform == "darwin" else most * 1024 / 1e6
