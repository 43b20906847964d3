"""How often words are confused at which distance of their phones; prints figures.

Run with: python -m tests.language.bench_confusion. People's clips of single words (twenty of them,
beside this repository) are decoded by PocketSphinx with a grammar of all of them, clean and in pink
noise at 10 dB: of the clips of one word, the share heard as another word, by their distance.
"""

from __future__ import annotations

import csv
import sys
from collections import Counter, defaultdict

import pocketsphinx

from assistant.hearing.noise import from_pcm, mixed_pcm, pink
from assistant.hearing.source import RATE, read_audio, room_tone
from assistant.language.confusion import phrase_distance, read_dictionary
from assistant.sounding import dictionary_text
from tests.hearing.bench_floor import SPEECH

BINS = (0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 9.0)


def clips(most: int) -> list[tuple[str, bytes]]:
    """Word and sound, at most so many a word."""
    found: list[tuple[str, bytes]] = []
    counts: Counter[str] = Counter()
    with (SPEECH / "manifest.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            word = row["transcript"]
            if row["kind"] == "speech" and " " not in word and counts[word] < most:
                counts[word] += 1
                found.append((word, read_audio(SPEECH / row["file"])))
    return found


def main() -> None:
    """Print confusions by distance."""
    most = int(sys.argv[1]) if len(sys.argv) > 1 else 40
    said = clips(most)
    words = sorted({word for word, _ in said})
    dictionary = read_dictionary(dictionary_text(), words)
    decoder = pocketsphinx.Decoder(lm=None, bestpath=False, loglevel="FATAL")
    decoder.add_jsgf_string("words", f"#JSGF V1.0; grammar g; public <w> = {' | '.join(words)};")
    decoder.activate_search("words")
    spoken: Counter[str] = Counter()
    heard: Counter[tuple[str, str]] = Counter()
    for number, (word, pcm) in enumerate(said):
        for noisy in (False, True):
            sound = mixed_pcm(pcm, pink(len(from_pcm(pcm)), number), 10) if noisy else pcm
            decoder.start_utt()
            decoder.process_raw(room_tone(RATE // 4) + sound + room_tone(RATE // 4), full_utt=True)
            decoder.end_utt()
            found = decoder.hyp()
            spoken[word] += 1
            heard[word, found.hypstr if found else ""] += 1
    shares: dict[float, list[float]] = defaultdict(list)
    for word in words:
        for other in words:
            if other != word:
                apart = phrase_distance([word], [other], dictionary)
                upto = next(limit for limit in BINS if apart <= limit)
                shares[upto].append(heard[word, other] / spoken[word])
    right = sum(heard[word, word] for word in words)
    sys.stdout.write(f"{len(words)} words, {sum(spoken.values())} utterances, {right} right\n")
    for upto in BINS:
        if shares[upto]:
            values = shares[upto]
            mean = sum(values) / len(values)
            bad = sum(value >= 0.05 for value in values)
            sys.stdout.write(
                f"to {upto} phones: {len(values)} pairs, heard as the other {mean:.2%}, "
                f"in {bad} of them 5 % or more\n"
            )
    for (word, other), count in heard.most_common():
        if word != other and count >= 0.05 * spoken[word] and other:
            apart = phrase_distance([word], [other], dictionary)
            sys.stdout.write(f"{word} -> {other}: {count}/{spoken[word]}, {apart:.2f}\n")


if __name__ == "__main__":
    main()
