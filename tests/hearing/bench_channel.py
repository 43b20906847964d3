"""Whether it helps that cepstral means are carried from one utterance to the next; prints figures.

Run with: python -m tests.hearing.bench_channel [EVERY] [WAY ...]. Held-out voices say commands, one
after the other, through three microphones made by filtering. "carried" is what PocketSphinx does by
itself (cmn: live); "first" sets its means back before each utterance, as if it were the first of a
job; "fresh" sets them back before every decoding; "batch" takes each whole utterance's own means
for the decodings that decide.
"""

from __future__ import annotations

import csv
import sys
from collections import Counter
from typing import Any

import numpy as np

from assistant.hearing.acceptance import judge, shipped_bars
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.noise import Samples, at_level_db, from_pcm, pink, to_pcm
from assistant.hearing.source import RATE, read_audio
from assistant.language.intent import Cost
from assistant.packaged import phrasebook
from assistant.soundcheck.run import grammar_of
from tests.hearing.clips import FIXTURES

VOICES = ("flite-rms", "neural-nezumi", "espeak-f2")


class Fresh:
    """A decoder whose means are set back before every utterance."""

    def __init__(self, decoder: Any) -> None:  # noqa: ANN401 - the library ships no types
        self._decoder = decoder
        self._means = decoder.get_cmn(False)

    def start_utt(self) -> None:
        """Begin with the model's means."""
        self._decoder.set_cmn(self._means)
        self._decoder.start_utt()

    def __getattr__(self, name: str) -> Any:  # noqa: ANN401 - as above
        return getattr(self._decoder, name)


def engine(way: str) -> PocketSphinxEngine:
    """The engine with this way of treating means."""
    import pocketsphinx  # noqa: PLC0415 - only here

    made = PocketSphinxEngine()
    if way == "fresh":
        made._decoder = Fresh(made._decoder)
        made._phones = Fresh(made._phones)
    elif way == "batch":
        made._decoder = pocketsphinx.Decoder(lm=None, bestpath=False, loglevel="FATAL", cmn="batch")
        made._phones = pocketsphinx.Decoder(lm=None, loglevel="FATAL", cmn="batch")
        made._phones.add_allphone_file("phones")
        made._phones.activate_search("phones")
    return made


def through(samples: Samples, microphone: str) -> Samples:
    """The sound as this microphone gives it, at -26 dBFS or fainter, over a faint room."""
    spectrum = np.fft.rfft(samples)
    hertz = np.fft.rfftfreq(len(samples), 1 / RATE)
    tilt = {"flat": 0.0, "dull": -6.0, "thin": 6.0}[microphone]
    octaves = np.log2(np.maximum(hertz, 62.5) / 1000)
    shaped = np.fft.irfft(spectrum * 10 ** (tilt * octaves / 20), len(samples))
    level = -42.0 if microphone == "thin" else -26.0
    return at_level_db(shaped, level) + at_level_db(pink(len(samples), 3), level - 30)


def clips(voice: str, every: int) -> list[tuple[str, str]]:
    """File and words of a voice's commands."""
    with (FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [r for r in csv.DictReader(file) if r["speaker"] == voice and r["kind"] == "command"]
    return [(row["file"], row["transcript"]) for row in rows][::every]


def main() -> None:
    """Print a row for each way and microphone."""
    every = int(sys.argv[1]) if len(sys.argv) > 1 else 4
    book = phrasebook("en")
    grammar = grammar_of(book)
    bars = shipped_bars()["pocketsphinx"]
    ways = sys.argv[2:] or ["carried", "first", "fresh", "batch"]
    for microphone in ("flat", "dull", "thin"):
        for way in ways:
            counts: Counter[str] = Counter()
            for voice in VOICES:
                made = engine(way)
                made.use(grammar)
                means = made._decoder.get_cmn(False)
                for file, words in clips(voice, every):
                    meant = grammar.match(words)
                    if meant is None:
                        continue
                    said = np.pad(from_pcm(read_audio(FIXTURES / file)), RATE // 3)
                    if way == "first":
                        made._decoder.set_cmn(means)
                        made._phones.set_cmn(means)
                    made.start()
                    made.feed(to_pcm(through(said, microphone)))
                    found = made.finish()
                    intent = grammar.match(found.text) if found.text else None
                    same = intent is not None and intent.name == meant.name
                    cost = grammar.cost_of(intent.name) if intent else Cost.QUESTION
                    taken = judge(bars, found, intent, cost, None).verdict == "accepted"
                    counts["n"] += 1
                    counts["right words"] += same
                    counts["accepted"] += same and taken
                    counts["wrong"] += taken and not same
            sys.stdout.write(f"{microphone} {way}: {dict(counts)}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
