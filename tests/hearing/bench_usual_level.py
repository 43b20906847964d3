"""How far people's own utterances lie from their usual level; prints figures.

Run with: python -m tests.hearing.bench_usual_level. Speakers with at least twenty clips, beside
this repository; each clip against the median of the same speaker's fifteen before it, as in the
ear.
"""

from __future__ import annotations

import csv
import sys
from collections import defaultdict
from statistics import median

import numpy as np

from assistant.hearing.source import read_audio
from assistant.soundcheck.measure import level_of
from tests.hearing.bench_floor import SPEECH


def main() -> None:
    """Print the share of utterances that lie so many dB under the usual level."""
    levels: dict[str, list[float]] = defaultdict(list)
    with (SPEECH / "manifest.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["kind"] == "speech":
                level = level_of(read_audio(SPEECH / row["file"]))
                if level is not None:
                    levels[row["speaker"]].append(level)
    off: list[float] = []
    speakers = [given for given in levels.values() if len(given) >= 20]
    for given in speakers:
        off += [given[at] - median(given[max(0, at - 15) : at]) for at in range(3, len(given))]
    sys.stdout.write(f"{len(speakers)} speakers, {len(off)} utterances\n")
    for limit in (6, 9, 12, 15, 18):
        share = float(np.mean([value < -limit for value in off]))
        sys.stdout.write(f"more than {limit} dB under the usual level: {share:.2%}\n")
    sys.stdout.write(f"lowest: {min(off):.1f} dB, standard deviation {np.std(off):.1f} dB\n")


if __name__ == "__main__":
    main()
