"""Plays every clip to PocketSphinx in a quiet room and tells which it mishears.

    python -m audio_fixtures.heard [--voice NAME] [--list]

The recognizer gets one strict grammar of all whole lines, or of all fragments, at once: far
harder than in a job, where only a few phrases are admitted at a time. A share that falls far
below the others of its voice points at broken clips; --list names what was heard instead.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable

import soundfile
from pocketsphinx import Decoder

from assistant.hearing.noise import at_level_db, to_pcm, white
from audio_fixtures.make import HERE, RATE_HZ, Row, read_manifest
from audio_fixtures.phrases import all_lines
from audio_fixtures.voices import VOICES

QUIET_DBFS = -75.0
# Words that the recognizer's dictionary lacks, in its own phones.
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
    samples, _ = soundfile.read(HERE / row["file"], dtype="float64")
    # A recognizer meets no digital silence in a workshop: the room is quiet, but there.
    room = at_level_db(white(len(samples), seed=1), QUIET_DBFS)
    decoder.start_utt()
    decoder.process_raw(to_pcm(samples + room), full_utt=True)
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
    # The same grammar for every voice, so that the shares can be compared.
    lines = all_lines()
    whole = {
        pieces: [line.transcript for line in lines if (line.kind == "fragment") == pieces]
        for pieces in (False, True)
    }
    right: Counter[tuple[str, str]] = Counter()
    every: Counter[tuple[str, str]] = Counter()
    for name in dict.fromkeys(row["speaker"] for row in rows):
        for pieces in (False, True):
            some = [
                row
                for row in rows
                if row["speaker"] == name and (row["kind"] == "fragment") == pieces
            ]
            # A decoder for each voice: it keeps a running mean of what it has heard.
            decoder = decoder_of(whole[pieces])
            for row in some:
                found = heard(decoder, row)
                every[name, row["kind"]] += 1
                right[name, row["kind"]] += found == row["transcript"]
                if given.list and found != row["transcript"]:
                    print(f"{name}: {row['transcript']!r} heard as {found!r}")
    for (speaker, kind), count in sorted(every.items()):
        share = right[speaker, kind] / count
        print(f"{speaker:14} {kind:9} {right[speaker, kind]:4} of {count:4} ({share:.0%})")


if __name__ == "__main__":
    main()
