"""Enrollment measured on people nobody tuned on: `python -m tests.hearing.bench_enrollment pair`.

After the engine, if wanted: every how many-th person (1), and the ratios (20,10,5,0; clean too).
Test speakers of `enrolled_people` say words of which two takes are enrolled; the engine hears them
without and with the takes, the takes are also tried alone. Speech Commands speakers with repeated
words are all in the pack that the shipped Vosk model was trained on, so with "vosk" and "pair" only
the digits (Free Spoken Digit) are unseen by the engine; PocketSphinx has seen none.
Unrelated speech is the half of the strangers' utterances that nothing was fitted on.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable

from assistant.engines import open_engine
from assistant.hearing.acceptance import EngineBars, judge, shipped_bars
from assistant.hearing.engines import Recognized
from assistant.hearing.enrollment.engine import joined
from assistant.hearing.enrollment.weights import shipped_weights
from assistant.language.grammar import Grammar
from assistant.trial.intervals import wilson95
from tests.hearing.enrolled_people import speakers
from tests.hearing.fit_enrollment import Case, cases

ROOMS = (None, 20.0, 10.0, 5.0, 0.0)
Way = Callable[[Case], Recognized]


def outcome(case: Case, found: Recognized, bars: EngineBars, grammar: Grammar) -> str:
    """What comes of it: right, wrong, asked again."""
    intent = grammar.match(found.text) if found.text else None
    if intent is None:
        return "again"
    judged = judge(bars, found, intent, grammar.cost_of(intent.name), None)
    if judged.verdict != "accepted":
        return "again"
    return "right" if found.text == case.word else "wrong"


def ways_of(name: str) -> dict[str, Way]:
    """Without takes, with them, and the takes alone."""
    weights = shipped_weights(name)
    return {
        "without": lambda case: case.found,
        "with": lambda case: joined(case.grammar, case.found, case.near, weights),
        "alone": lambda case: joined(case.grammar, Recognized("", 0.0), case.near, weights),
    }


def main() -> None:
    """Print a row for each set, room and way."""
    engine = open_engine(sys.argv[1])
    every = int(sys.argv[2]) if len(sys.argv) > 2 else 1
    rooms = ROOMS if len(sys.argv) <= 3 else (None, *map(float, sys.argv[3].split(",")))
    bars = shipped_bars()[engine.name]
    ways = ways_of(engine.name)
    counts: Counter[tuple[str, str, str, str]] = Counter()
    for case in cases(engine, speakers()[1][::every], rooms, 1):
        kind = ("digits" if case.speaker.startswith("fsdd") else "words") if case.word else "others"
        room = "clean" if case.snr_db is None else f"{case.snr_db:.0f} dB"
        for way, listen in ways.items():
            counts[kind, room, way, outcome(case, listen(case), bars, case.grammar)] += 1
    for kind, room, way in dict.fromkeys(key[:3] for key in sorted(counts)):
        each = {what: counts[kind, room, way, what] for what in ("right", "wrong", "again")}
        total = sum(each.values())
        shares = []
        for what, count in each.items():
            low, high = wilson95(count, total)
            shares.append(f"{what} {count} ({100 * low:.1f} to {100 * high:.1f} %)")
        sys.stdout.write(f"{kind:7} {room:6} {way:8} of {total}: {', '.join(shares)}\n")


if __name__ == "__main__":
    main()
