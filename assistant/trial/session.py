"""One listener hears a few clips, one after the other, as one person speaking in a shop.

Where a machine runs on, nothing may ever tell a listener that somebody has finished. So each clip
has an end: LATE_S after its last voiced sound a listener that still waits for the end of what is
said is told so. An engine driven plainly then answers with what it has (`trial.plain`). That is
more than it would do by itself, so it is to its favor; these answers count as any others, their
latency is LATE_S at least, and the table says how many they were and what came of them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from assistant.hearing.ear import Heard
from assistant.hearing.source import FRAME_S, RATE
from assistant.language.grammar import Grammar
from assistant.trial.bench import Bench
from assistant.trial.listeners import Listener, MakeListener
from assistant.trial.manifest import Row
from assistant.trial.outcome import Decision, Result, score
from assistant.trial.phrases import Phrases
from assistant.trial.sound import LEAD_S, Condition, NoiseFolder, Scene, make_scene

_PATIENCE_S: Final = 0.8
_AFTER_S: Final = 1.0
"""Room that must have been heard after a clip, so that a late beginning is not missed."""

LATE_S: Final = 5.0
"""From the last voiced sound on; who has no answer then repeats or does it by hand.

The longest silence that any rule of Kaldi's endpointer waits for (rule 1, where nothing was said;
after words it is 2 s, PocketSphinx's endpointer takes 0.3 s), so that whatever ends of silence has
ended; and longer than the 3.8 s that burdened mechanics in a trial (Rudnicky et al., ICSLP 1996).
Vosk ends what never becomes silent after 20 s, which nobody would wait for."""

LONGEST_SESSION: Final = 25

_STATUS: Final = Path("/proc/self/status")


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
        decisions, masked = _hear(bench, listener, grammar, scene)
        result = score(
            row,
            session.condition,
            meant,
            decisions,
            masked=masked,
            seconds=len(scene.clip) / RATE,
            voiced_s=scene.voiced_s,
        )
        results.append(replace(result, noise_clip=scene.noise_clip))
    spent = Spent(
        bench.busy_s, bench.frames_played * FRAME_S, bench.listening_s, bench.leads_s, _peak_mb()
    )
    return results, spent


def _hear(
    bench: Bench, listener: Listener, grammar: Grammar, scene: Scene
) -> tuple[list[Decision], bool]:
    """Every utterance until the room has been heard long enough after the clip."""
    latest_s = max(_AFTER_S + _PATIENCE_S, LATE_S - (scene.clip_s - scene.voiced_s))

    def in_time() -> bool:
        return bench.after_clip_s < latest_s

    decisions: list[Decision] = []
    masked = False
    while bench.after_clip_s < _AFTER_S:
        heard = listener.hear(grammar, _PATIENCE_S, in_time)
        if isinstance(heard, Heard):
            cost = grammar.cost_of(heard.intent.name) if heard.intent else None
            at_s = bench.done_s - LEAD_S
            decisions.append(Decision(heard, at_s, cost, late=not in_time()))
        else:
            masked = masked or heard.reason == "noise"
    return decisions, masked


def _peak_mb() -> float:
    """Most memory of this process so far, in 10**6 bytes; 0 where the system doesn't tell."""
    try:
        # On Linux getrusage would tell of a process's parent too, if that had more (exec).
        status = _STATUS.read_text(encoding="ascii", errors="replace")
    except OSError:
        return _peak_by_usage_mb()
    kept = next((line.split()[1] for line in status.splitlines() if line.startswith("VmHWM")), "0")
    return int(kept) * 1024 / 1e6


def _peak_by_usage_mb() -> float:
    try:
        import resource  # noqa: PLC0415 - not on Windows
    except ImportError:
        return 0.0
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / 1e6 if sys.platform == "darwin" else most * 1024 / 1e6
