"""Plays every clip to PocketSphinx and tells which are not heard as what they say.

    python -m audio_fixtures.heard [--voice NAME] [--list]

The recogniser gets one strict grammar of all whole lines, or of all fragments, at once: far
harder than in a job, where only a few phrases are admitted at a time. A share that falls far
below the others of its voice points at broken clips; --list names what was heard instead.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable

import soundfile
from pocketsphinx import Decoder

from audio_fixtures.make import HERE, RATE_HZ, Row, read_manifest
from audio_fixtures.voices import VOICES

# Words that the recogniser's dictionary lacks, in its own phones.
ADDED_WORDS = {
    "juliett": "JH UW L IY EH T",
    "kilopascal": "K IH L OW P AE S K AE L",
    "kilopascals": "K IH L OW P AE S K AE L Z",
    "grommet": "G R AA M AH T",
    "grommets": "G R AA M AH T S",
}


def decoder_of(transcripts: Iterable[str]) -> Decoder:
    """A decoder whose grammar holds exactly these lines."""
    decoder = Decoder(lm=None, loglevel="FATAL", samprate=RATE_HZ)
    for word, phones in ADDED_WORDS.items():
        decoder.add_word(word, phones, update=True)
    said = " | ".join(sorted(set(transcripts)))
    decoder.add_jsgf_string("lines", f"#JSGF V1.0;\ngrammar lines;\npublic <line> = {said};\n")
    decoder.activate_search("lines")
    return decoder


def heard(decoder: Decoder, row: Row) -> str:
    """What the decoder makes of one clip; empty when nothing."""
    samples, _ = soundfile.read(HERE / row["file"], dtype="int16")
    decoder.start_utt()
    decoder.process_raw(samples.tobytes(), full_utt=True)
    decoder.end_utt()
    found = decoder.hyp()
    return found.hypstr if found else ""


def main() -> None:
    """Prints recognized / all for each voice and kind."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    names = [voice.name for voice in VOICES]
    parser.add_argument("--voice", choices=names, action="append")
    parser.add_argument("--list", action="store_true", help="name every clip heard wrongly")
    given = parser.parse_args()
    rows = [row for row in read_manifest() if row["speaker"] in (given.voice or names)]
    right: Counter[tuple[str, str]] = Counter()
    every: Counter[tuple[str, str]] = Counter()
    for pieces in (False, True):
        some = [row for row in rows if (row["kind"] == "fragment") == pieces]
        if not some:
            continue
        decoder = decoder_of(row["transcript"] for row in some)
        for row in some:
            found = heard(decoder, row)
            every[row["speaker"], row["kind"]] += 1
            right[row["speaker"], row["kind"]] += found == row["transcript"]
            if given.list and found != row["transcript"]:
                print(f"{row['speaker']}: {row['transcript']!r} heard as {found!r}")
    for (speaker, kind), count in sorted(every.items()):
        share = right[speaker, kind] / count
        print(f"{speaker:14} {kind:9} {right[speaker, kind]:4} of {count:4} ({share:.0%})")


if __name__ == "__main__":
    main()
