"""People with several takes of a word in ../shared/speech, and trials of them in a room.

Speech Commands speakers (CC BY 4.0) are split by the hash of their label: half for development,
half for test. Free Spoken Digit is share-alike, so nothing shipped is learned from it; speakers 1
to 3 were looked at while settings were chosen, so only 4 to 6 are test speakers.

For the pair, whose model was trained on many of them, `unheard_speakers` gives those it was not
trained on, and `unrelated` what people say that is no command, both in two parts.
"""

from __future__ import annotations

import csv
import hashlib
import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

import numpy as np
import soundfile

from assistant.acoustics import splits
from assistant.acoustics import trials as acoustic_trials
from assistant.hearing.noise import Samples, active_level_db, at_level_db

SPEECH: Final = Path(__file__).parents[3] / "shared" / "speech"
RATE: Final = 16_000
_COMMANDS: Final = "yes no up down left right on off stop go repeat help start"
_DIGITS: Final = "zero one two three four five six seven eight nine"
WORDS: Final = frozenset(f"{_COMMANDS} {_DIGITS}".split())


@dataclass(frozen=True)
class Trial:
    """One person, two takes of each of their words, and what they say then."""

    speaker: str
    enrolled: dict[str, tuple[Samples, ...]]
    said: tuple[tuple[str, Samples], ...]


def _rows() -> Iterator[tuple[str, str, Path, str]]:
    with (SPEECH / "manifest.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["kind"] == "speech":
                yield row["speaker"], row["transcript"], SPEECH / row["file"], row["origin"]
    with (SPEECH / "train" / "manifest.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            yield row["speaker"], row["transcript"], SPEECH / "train" / row["file"], row["origin"]


@cache
def takes() -> dict[str, dict[str, list[Path]]]:
    """Files by speaker and word, each recording once."""
    seen: set[str] = set()
    found: dict[str, dict[str, list[Path]]] = {}
    for speaker, word, path, origin in _rows():
        name = Path(origin).name
        key = f"{speaker} {word} {re.sub('.*_nohash_', '', name)}"
        if speaker.startswith(("fsdd", "an4")):
            key = name
        if key not in seen and word in WORDS:
            found.setdefault(speaker, {}).setdefault(word, []).append(path)
        seen.add(key)
    return found


def speakers() -> tuple[list[str], list[str]]:
    """For development and for test: nobody is in both."""
    development: list[str] = []
    test: list[str] = []
    for speaker, words in sorted(takes().items()):
        if speaker.startswith("fsdd"):
            if speaker[-1] in "456":
                test.append(speaker)
        elif _repeats(words, 3) >= 1 and _repeats(words, 2) >= 3:
            even = hashlib.sha1(speaker.encode(), usedforsecurity=False).digest()[0] % 2 == 0
            (development if even else test).append(speaker)
    return development, test


@cache
def unheard_speakers() -> tuple[tuple[str, ...], tuple[str, ...]]:
    """People whom en-shop-1 was not trained on, with two takes of some word.

    For development those kept for its tuning; for test Free Spoken Digit's 4 to 6, and the test
    speakers of Speech Commands and AN4.
    """
    recordings = splits.training_recordings(SPEECH)
    trained = {each.speaker for each in recordings if each.split != "tuning"}
    tuning = {each.speaker for each in recordings} - trained
    tested = {row["speaker"] for row in splits.test_recordings(SPEECH) if row["kind"] == "speech"}
    several = [name for name, words in sorted(takes().items()) if _repeats(words, 2)]
    test = [n for n in several if n in tested and n not in {"fsdd-1", "fsdd-2", "fsdd-3"}]
    return tuple(n for n in several if n in tuning), tuple(test)


def unrelated(part: int) -> list[Path]:
    """What people say that is no command, for development (0) or for test (1).

    What the pair was tuned with is for development.
    """
    tuned = {trial.path for trial in acoustic_trials.other_speech(SPEECH) if not trial.text}
    rest = {trial.path for trial in acoustic_trials.distractors(SPEECH)}
    again = {path for path in rest if splits.share(f"enrollment {path.name}") < 0.4}
    chosen = (tuned & _unspoken()) | again if part == 0 else rest - again
    return sorted(chosen, key=lambda path: splits.share(path.name))


def _unspoken() -> set[Path]:
    """Clips of the main manifest that hold no command."""
    rows = splits.test_recordings(SPEECH)
    return {Path(row["file"]) for row in rows if row["kind"] == "distractor"}


def turns(names: Sequence[str]) -> Iterator[Trial]:
    """For each person every take of a word in turn is said, with at most two others enrolled."""
    for speaker in names:
        words = takes()[speaker]
        most = max(len(files) for files in words.values())
        for turn in range(most):
            rest = {w: [f for i, f in enumerate(files) if i != turn] for w, files in words.items()}
            enrolled = {w: tuple(sound(f) for f in files[:2]) for w, files in rest.items() if files}
            said = tuple(
                (w, sound(files[turn])) for w, files in words.items() if 1 < len(files) > turn
            )
            yield Trial(speaker, enrolled, said)


def _repeats(words: dict[str, list[Path]], times: int) -> int:
    return sum(len(files) >= times for files in words.values())


@cache
def sound(path: Path) -> Samples:
    """A file's samples, mono."""
    samples, rate = soundfile.read(path, always_2d=True)
    assert rate == RATE, path
    return np.asarray(samples.mean(axis=1), dtype=np.float64)


def trials(names: list[str], said: int = 1) -> Iterator[Trial]:
    """For each person: two takes enrolled, `said` later takes of a word (digits: each in turn)."""
    for speaker in names:
        words = takes()[speaker]
        if speaker.startswith("fsdd"):
            for kept in range(3):
                rest = [number for number in range(3) if number != kept]
                yield Trial(
                    speaker,
                    {word: tuple(sound(f[i]) for i in rest) for word, f in words.items()},
                    tuple((word, sound(f[kept])) for word, f in words.items()),
                )
            continue
        enrolled = {word: tuple(sound(f) for f in files[:2]) for word, files in words.items()}
        later = [(w, sound(f)) for w, files in words.items() for f in files[2 : 2 + said]]
        yield Trial(speaker, enrolled, tuple(later))


@cache
def noises() -> tuple[Samples, ...]:
    """Recorded machines; without voices, crowds, and clips under a share-alike license."""
    found = []
    with (SPEECH / "manifest.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            name = Path(row["file"]).name
            voices = "radio" in name or "crowd" in name or name.startswith(("pcd_", "lc_"))
            if row["kind"] == "noise" and not voices:
                samples = sound(SPEECH / row["file"])
                if float(np.sqrt(np.mean(samples**2))) > 1e-4:
                    found.append(samples)
    return tuple(found)


def in_room(clip: Samples, snr_db: float | None, seed: int, half: int | None = None) -> Samples:
    """A clip with half a second of its room before and after, and a machine over all of it.

    Args:
        clip: of speech.
        snr_db: speech over the machine; None for none.
        seed: which machine, and where in its sound.
        half: only machines of an even (0) or odd (1) number; all if left out.
    """
    chance = np.random.default_rng(seed)
    blocks = np.sort(np.sqrt((clip[: len(clip) // 160 * 160].reshape(-1, 160) ** 2).mean(axis=1)))
    quiet = max(float(blocks[: max(1, len(blocks) // 10)].mean()), 10 ** (-75 / 20))
    quiet = min(quiet, float(np.sqrt(np.mean(clip**2))) * 0.1)
    hush = [chance.standard_normal(RATE // 2) * quiet for _ in range(2)]
    whole = np.concatenate([hush[0], clip, hush[1]])
    if snr_db is None:
        return whole
    machines = noises() if half is None else noises()[half::2]
    machine = machines[seed % len(machines)]
    machine = np.resize(np.roll(machine, -int(chance.integers(len(machine)))), len(whole))
    if not machine.any():
        return whole
    noisy = whole + at_level_db(machine, active_level_db(clip, RATE) - snr_db)
    return np.asarray(noisy * min(1.0, 0.99 / float(np.abs(noisy).max())))
