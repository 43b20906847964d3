"""Measures recognisers driven plainly, each in a process of its own; writes a line per utterance.

python -m assistant.acoustics.evaluate ENGINE OUT --speech FOLDER [--set NAME] [--snr DB]

ENGINE is "pocketsphinx" or the folder of a Vosk model. PocketSphinx is made to choose one of the
phrases; Vosk also has "[unk]", and its words count only when they are exactly a phrase.
"""

from __future__ import annotations

import argparse
import json
import math
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Protocol

import numpy as np
import soundfile

from assistant.acoustics.splits import noises, share
from assistant.acoustics.trials import SETS, Trial
from assistant.acoustics.vocabulary import dictionary
from assistant.hearing.noise import Samples, mixed, to_pcm
from assistant.hearing.source import RATE, resample, room_tone

_BEFORE_S, _AFTER_S = 0.4, 0.6


class Plain(Protocol):
    """A recogniser without our own ways around it."""

    def __call__(self, pcm: bytes, phrases: tuple[str, ...]) -> tuple[str, float]:
        """The text and a confidence."""


class PlainPocketSphinx:
    """A JSGF grammar of the phrases, the whole utterance at once."""

    def __init__(self) -> None:
        import pocketsphinx  # noqa: PLC0415 - never in one process with the other

        self._decoder = pocketsphinx.Decoder(lm=None, loglevel="FATAL")
        for word, ways in dictionary().items():
            if self._decoder.lookup_word(word) is None:
                self._decoder.add_word(word, " ".join(ways[0]), update=True)
        self._grammars: dict[tuple[str, ...], str] = {}

    def __call__(self, pcm: bytes, phrases: tuple[str, ...]) -> tuple[str, float]:
        """See `Plain`."""
        if phrases not in self._grammars:
            name = f"g{len(self._grammars)}"
            body = " | ".join(phrases)
            text = f"#JSGF V1.0;\ngrammar {name};\npublic <p> = {body};\n"
            self._decoder.add_jsgf_string(name, text)
            self._grammars[phrases] = name
        self._decoder.activate_search(self._grammars[phrases])
        self._decoder.start_utt()
        self._decoder.process_raw(pcm, no_search=False, full_utt=True)
        self._decoder.end_utt()
        found = self._decoder.hyp()
        return (found.hypstr, 1.0) if found else ("", 0.0)


class PlainVosk:
    """A run-time phrase list with "[unk]", in blocks of 0.1 s, with a little quiet around."""

    def __init__(self, folder: Path) -> None:
        import vosk  # noqa: PLC0415 - as above

        vosk.SetLogLevel(-1)
        self._vosk, self._model = vosk, vosk.Model(str(folder))
        self._kept: dict[tuple[str, ...], Any] = {}

    def __call__(self, pcm: bytes, phrases: tuple[str, ...]) -> tuple[str, float]:
        """See `Plain`."""
        if phrases not in self._kept:
            listed = json.dumps([*phrases, "[unk]"])
            self._kept[phrases] = self._vosk.KaldiRecognizer(self._model, RATE, listed)
            self._kept[phrases].SetWords(True)
        recognizer = self._kept[phrases]
        recognizer.Reset()
        sound = room_tone(round(_BEFORE_S * RATE)) + pcm + room_tone(round(_AFTER_S * RATE))
        results = [
            json.loads(recognizer.Result())
            for at in range(0, len(sound), 3200)
            if recognizer.AcceptWaveform(sound[at : at + 3200])
        ]
        results.append(json.loads(recognizer.FinalResult()))
        text = " ".join(each["text"] for each in results if each.get("text"))
        sure = [word["conf"] for each in results for word in each.get("result", ())]
        return text, min(sure, default=0.0)


def read_sound(path: Path) -> Samples:
    """A clip at 16 kHz, in -1..1."""
    samples, rate = soundfile.read(path, dtype="float64", always_2d=True)
    mono = np.asarray(samples.mean(axis=1), dtype=np.float64)
    return mono if rate == RATE else resample(mono, rate, RATE)


def noisy(trial: Trial, snr_db: float | None, beds: Sequence[Path]) -> bytes:
    """The clip, with recorded noise of the test split at so many dB; always the same noise."""
    samples = read_sound(trial.path)
    if snr_db is None:
        return to_pcm(samples)
    chance = np.random.default_rng(int(share(f"{trial.path.name} {snr_db}") * 2**32))
    bed = read_sound(beds[int(chance.integers(len(beds)))])
    turned = np.roll(np.tile(bed, 1 + len(samples) // len(bed)), int(chance.integers(len(bed))))
    return to_pcm(mixed(samples, turned, snr_db, RATE))


def wilson(right: int, count: int) -> tuple[float, float]:
    """95 % interval of a share (Wilson 1927)."""
    if not count:
        return 0.0, 1.0
    z, p = 1.96, right / count
    middle = (p + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * math.sqrt(p * (1 - p) / count + z * z / (4 * count**2))
    return middle - half, middle + half


def measure(
    engine: Plain, trials: Sequence[Trial], snr_db: float | None, beds: Sequence[Path]
) -> list[dict[str, Any]]:
    """A line of facts for each utterance."""
    made = []
    for trial in trials:
        text, sure = engine(noisy(trial, snr_db, beds), trial.phrases)
        outcome = "right" if text == trial.text and text else "none"
        if text != trial.text and text in trial.phrases:
            outcome = "wrong"
        made.append(
            {
                "set": trial.set,
                "file": trial.path.name,
                "said": trial.text,
                "heard": text,
                "sure": sure,
                "snr": snr_db,
                "outcome": outcome,
            }
        )
    return made


def table(lines: Sequence[dict[str, Any]]) -> str:
    """Right and wrong by set and noise, with 95 % intervals of the share right."""
    groups = Counter((line["set"], line["snr"]) for line in lines)
    made = []
    for (name, snr), count in groups.items():
        some = [line for line in lines if (line["set"], line["snr"]) == (name, snr)]
        right = sum(line["outcome"] == "right" for line in some)
        wrong = sum(line["outcome"] == "wrong" for line in some)
        low, high = wilson(right, count)
        noise = "clean" if snr is None else f"{snr:g} dB"
        made.append(
            f"{name:24} {noise:>6}  right {right:4} of {count:4} ({low:.0%} to {high:.0%}), "
            f"wrong {wrong:3}"
        )
    return "\n".join(made)


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure one engine."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("engine")
    parser.add_argument("out", type=Path)
    parser.add_argument("--speech", type=Path, required=True)
    parser.add_argument("--fixtures", type=Path, default=Path("audio_fixtures"))
    parser.add_argument("--set", action="append", choices=tuple(SETS), required=True)
    parser.add_argument("--snr", type=float, action="append", help="dB; clean is always measured")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--no-clean", action="store_true")
    given = parser.parse_args(arguments)
    plain = given.engine == "pocketsphinx"
    engine: Plain = PlainPocketSphinx() if plain else PlainVosk(Path(given.engine))
    beds = noises(given.speech, "test")
    lines: list[dict[str, Any]] = []
    for name in given.set:
        where = given.fixtures if name == "synthetic" else given.speech
        trials = list(SETS[name](where))[:: given.every]
        conditions = ([] if given.no_clean else [None]) + list(given.snr or ())
        for snr in conditions:
            lines += measure(engine, trials, snr, beds)
    with given.out.open("a", encoding="utf-8") as file:
        file.writelines(json.dumps(line) + "\n" for line in lines)
    sys.stdout.write(f"{given.engine}\n{table(lines)}\n")


if __name__ == "__main__":
    main()
