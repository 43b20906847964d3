"""Enrollment measured on people nobody tuned on: `python -m tests.hearing.bench_enrollment pair`.

After the engine, if wanted: the ratios (10; clean always), e.g. 20,10,5,0. Test speakers of
`enrolled_people.unheard_speakers`, whom neither the pair's model nor the weights have met, say
words of which one or two other takes are enrolled; the engine hears them without and with the
takes. Unrelated speech is the half that nothing was fitted on, beside each of these people's takes.
Each result is held against the bar of an ordinary command (control) and of a confirmation.
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
from assistant.language.intent import Cost
from assistant.trial.intervals import wilson95
from tests.hearing.enrolled_people import unheard_speakers
from tests.hearing.fit_enrollment import Case, grammar, others, words

BARS = (Cost.CONTROL, Cost.CONFIRMATION)
Way = Callable[[Case], Recognized]
Key = tuple[str, str, str, str]


def outcome(case: Case, found: Recognized, bars: EngineBars, phrases: Grammar, cost: Cost) -> str:
    """What comes of it: right, wrong, asked again."""
    intent = phrases.match(found.text) if found.text else None
    if judge(bars, found, intent, cost, None).verdict != "accepted":
        return "again"
    return "right" if found.text == case.word else "wrong"


def ways_of(name: str, phrases: Grammar) -> dict[str, Way]:
    """Without takes and with them."""
    fitted = shipped_weights(name)
    return {
        "without": lambda case: case.found,
        "with": lambda case: joined(phrases, case.found, case.near, fitted),
    }


def main() -> None:
    """Print a row for each set, room, bar and way."""
    engine, phrases = open_engine(sys.argv[1]), grammar()
    ratios = sys.argv[2] if len(sys.argv) > 2 else "10"
    rooms = (None, *map(float, ratios.split(",")))
    engine.use(phrases)
    bars, ways = shipped_bars()[engine.name], ways_of(engine.name, phrases)
    counts: Counter[tuple[Key, str]] = Counter()
    names = unheard_speakers()[1]
    for said in (words(engine, names, rooms, 1), others(engine, names, 1)):
        for case in said:
            kind = "unrelated"
            if case.word:
                kind = "digits" if case.speaker.startswith("fsdd") else "words"
            room = "clean" if case.snr_db is None else f"{case.snr_db:.0f} dB"
            for cost in BARS:
                for way, listen in ways.items():
                    came = outcome(case, listen(case), bars, phrases, cost)
                    counts[(kind, room, cost.value, way), came] += 1
    for key in sorted({key for key, _ in counts}):
        each = {what: counts[key, what] for what in ("right", "wrong", "again")}
        shares = []
        for what, count in each.items():
            low, high = wilson95(count, sum(each.values()))
            shares.append(f"{what} {count} ({100 * low:.1f} to {100 * high:.1f} %)")
        head = " ".join(f"{part:9}" for part in key)
        sys.stdout.write(f"{head} of {sum(each.values())}: {', '.join(shares)}\n")


if __name__ == "__main__":
    main()
