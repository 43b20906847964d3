"""Where the time from the last voiced sample to the decision goes; prints figures.

Run with: python -m tests.hearing.bench_latency MANIFEST [--phrases FILE] [--limit N] [--noise
FOLDER --snr DB] [--engine NAME]. The manifest is one of `gloveson trial`, and sound and clock are
the trial's own: one process, work counted as processor time. Of each utterance that was acted on:

    hangover  from the last voiced sample of the clean clip to the detector's last voiced frame
    silence   from there to the frame at which it was decided
    work      from the arrival of that frame to the decision
    look      processor time of the last glance or of `finish`, a part of work
"""

from __future__ import annotations

import argparse
import sys
import time
from collections import Counter, defaultdict
from collections.abc import Callable
from pathlib import Path
from typing import ParamSpec, TypeVar

import numpy as np

from assistant.engines import open_engine
from assistant.hearing.ear import Ear, Heard
from assistant.hearing.engines import Engine
from assistant.hearing.source import FRAME_S
from assistant.trial.bench import Bench
from assistant.trial.manifest import Row, read_manifest, spread
from assistant.trial.outcome import same
from assistant.trial.phrases import Phrases, read_phrases
from assistant.trial.sound import CLEAN, LEAD_S, Condition, NoiseFolder, make_scene

_PATIENCE_S = 0.8
_AFTER_S = 1.0
_P = ParamSpec("_P")
_R = TypeVar("_R")
PARTS = ("hangover", "silence", "work", "look", "total")


class Timed:
    """An engine whose work is timed by what was asked of it.

    Attributes:
        spent_s: processor time by call.
        calls: how often it was called.
        last_s: of the last glance or finish.
        by: which of the two that was.
    """

    def __init__(self, inner: Engine) -> None:
        self._inner = inner
        self.name, self.model = inner.name, inner.model
        self.spent_s: defaultdict[str, float] = defaultdict(float)
        self.calls: Counter[str] = Counter()
        self.last_s, self.by = 0.0, ""
        self.unknown_words = inner.unknown_words
        self.use = self._timed("use", inner.use)
        self.start = self._timed("start", inner.start)
        self.feed = self._timed("feed", inner.feed)
        self.partial = self._timed("partial", inner.partial)
        self.glance = self._timed("glance", inner.glance)
        self.finish = self._timed("finish", inner.finish)

    def _timed(self, name: str, call: Callable[_P, _R]) -> Callable[_P, _R]:
        def timed(*given: _P.args, **named: _P.kwargs) -> _R:
            began = time.process_time()
            found = call(*given, **named)
            spent = time.process_time() - began
            self.spent_s[name] += spent
            self.calls[name] += 1
            if name in {"glance", "finish"}:
                self.last_s, self.by = spent, name
            return found

        return timed


class Run:
    """Clips heard one after the other by one ear, and what became of them."""

    def __init__(self, engine: Engine, phrases: Phrases, noises: NoiseFolder | None) -> None:
        self.engine = Timed(engine)
        self._phrases, self._noises = phrases, noises
        self.bench = Bench()
        self._ear = Ear(self.bench, self.engine)
        self.outcomes: Counter[str] = Counter()
        self.by: Counter[str] = Counter()
        self.parts: list[tuple[float, ...]] = []

    def hear(self, row: Row, condition: Condition) -> None:
        """Play one clip, and hear it to its end."""
        scene = make_scene(row, condition, self._noises)
        grammar, meant = (
            self._phrases.meant(row) if row.spoken else (self._phrases.unrelated(), None)
        )
        self.bench.play(scene)
        begins_s = self._ear.now_s
        acted = set()
        while self.bench.after_clip_s < _AFTER_S:
            heard = self._ear.hear(grammar, _PATIENCE_S)
            if isinstance(heard, Heard) and heard.intent is not None:
                right = meant is not None and same(heard.intent, meant)
                acted.add("right" if right else "wrong")
                self._time(heard, begins_s, scene.voiced_s)
        self.outcomes["wrong" if "wrong" in acted else "right" if acted else "asked"] += 1

    def _time(self, heard: Heard, begins_s: float, voiced_s: float) -> None:
        decided_s, frame_s = self.bench.done_s - LEAD_S, self._ear.now_s - begins_s - LEAD_S
        ended_s = heard.ended_s - begins_s - LEAD_S
        self.by[self.engine.by] += 1
        self.parts.append(
            (
                ended_s - voiced_s,
                frame_s - ended_s,
                decided_s - frame_s,
                self.engine.last_s,
                decided_s - voiced_s,
            )
        )


def _printed(run: Run, title: str) -> None:
    out = sys.stdout.write
    counts = ", ".join(f"{name} {run.outcomes[name]}" for name in ("right", "wrong", "asked"))
    ways = ", ".join(f"by {name} {count}" for name, count in sorted(run.by.items()))
    out(f"{title}: {counts}; {ways}\n")
    if run.parts:
        low = 1000 * np.percentile(np.array(run.parts), [10, 50, 90, 95], axis=0)
        for number, name in enumerate(PARTS):
            cells = "  ".join(f"{value:6.0f}" for value in low[:, number])
            out(f"  {name:9} 10, 50, 90, 95 %, ms: {cells}\n")
    sound_s = run.bench.frames_played * FRAME_S
    out(f"  processor: {run.bench.busy_s / sound_s:.2%} of {sound_s:.0f} s of sound, ")
    out(f"{run.bench.listening_s / run.bench.leads_s:.2%} while nobody speaks\n")
    spent, calls = run.engine.spent_s, run.engine.calls
    for name in sorted(spent):
        each = 1000 * spent[name] / calls[name]
        out(f"  {name:8} {calls[name]:6} calls, {each:7.2f} ms each, {spent[name]:6.2f} s\n")


def main() -> None:
    """Hear a manifest's clips, clean and in noise, and print where the time goes."""
    asked = argparse.ArgumentParser(description=__doc__.partition(";")[0])
    asked.add_argument("manifest", type=Path)
    asked.add_argument("--phrases", type=Path)
    asked.add_argument("--limit", type=int)
    asked.add_argument("--noise", type=Path)
    asked.add_argument("--snr", type=float, default=10.0)
    asked.add_argument("--engine", default="pair")
    given = asked.parse_args()
    engine, phrases = open_engine(given.engine), read_phrases(given.phrases, "en")
    noises = NoiseFolder(given.noise, 1) if given.noise else None
    rows = spread(read_manifest(given.manifest), given.limit)
    conditions = [CLEAN, *([Condition(noises.name, given.snr)] if noises else [])]
    for condition in conditions:
        run = Run(engine, phrases, noises)
        for row in rows:
            run.hear(row, condition)
        _printed(run, "clean" if condition == CLEAN else f"{given.snr:.0f} dB")


if __name__ == "__main__":
    main()
