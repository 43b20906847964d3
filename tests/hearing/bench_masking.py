"""From which signal-to-noise ratio on it is of use to listen at all; prints figures.

Run with: python -m tests.hearing.bench_masking [EVERY] [RATIO ...]. Commands of held-out voices in
steady noise go through the whole ear; a row is what became of them at one ratio (active speech
level over noise, ITU-T P.56), and what the ear measured the ratio to be.
"""

from __future__ import annotations

import csv
import sys
from collections import Counter

import numpy as np

from assistant.engines import open_engine
from assistant.hearing.ear import Ear, Heard
from assistant.hearing.masking import Masking
from assistant.hearing.noise import NOISES, from_pcm, mixed, to_pcm
from assistant.hearing.source import RATE, PcmSource, read_audio
from assistant.packaged import phrasebook
from assistant.soundcheck.run import grammar_of
from tests.hearing.bench_floor import SPEECH
from tests.hearing.clips import FIXTURES

MACHINES = ("esc_vacuum_1-60460-A", "esc_chainsaw_1-47250-A", "rc_compressor_motor_01")
RATIOS = (-6.0, -3.0, 0.0, 3.0, 6.0, 10.0)


class Unmasked(Masking):
    """Listens whatever the noise."""

    def take(self, noise_dbfs: float | None) -> bool:
        """Never changes."""
        del noise_dbfs
        return False


def commands(every: int) -> list[tuple[str, str]]:
    """File and transcript of held-out commands."""
    with (FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [
            (row["file"], row["transcript"])
            for row in csv.DictReader(file)
            if row["kind"] == "command" and row["split"] == "held-out"
        ]
    return [row for row in rows if row[0].startswith("en/")][::every]


def main() -> None:
    """Print the table."""
    every = int(sys.argv[1]) if len(sys.argv) > 1 else 12
    ratios = [float(given) for given in sys.argv[2:]] or RATIOS
    engine = open_engine("pocketsphinx")
    book = phrasebook("en")
    grammar = grammar_of(book)
    beds = {name: make(8 * RATE, RATE, 3) for name, make in NOISES.items() if name != "white"}
    for name in MACHINES:
        path = SPEECH / "audio" / "noise" / f"{name}.opus"
        if path.is_file():
            beds[name] = np.resize(from_pcm(read_audio(path)), 8 * RATE)
    for ratio in ratios:
        counts: Counter[str] = Counter()
        measured = []
        for bed in beds.values():
            for file, words in commands(every):
                said = from_pcm(read_audio(FIXTURES / file))
                padded = np.concatenate([np.zeros(3 * RATE), said, np.zeros(2 * RATE)])
                source = PcmSource(to_pcm(mixed(padded, bed, ratio, RATE)), tail_s=0.0)
                heard = Ear(source, engine, masking=Unmasked()).hear(grammar, 6.0)
                meant = grammar.match(words)
                if not isinstance(heard, Heard):
                    counts["not noticed"] += 1
                    continue
                measured.append(heard.snr_db if heard.snr_db is not None else np.nan)
                if heard.intent is None:
                    counts["asked again"] += 1
                else:
                    same = meant is not None and heard.intent.name == meant.name
                    counts["understood" if same else "wrong"] += 1
        total = sum(counts.values())
        shares = ", ".join(
            f"{kind} {number / total:.1%}" for kind, number in sorted(counts.items())
        )
        middle = np.nanmedian(measured) if measured else np.nan
        sys.stdout.write(f"{ratio:+5.0f} dB: n {total}; {shares}; measured {middle:+.1f} dB\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
