"""How well the noise-floor tracker follows noise under speech; prints figures.

Run with: python -m tests.hearing.bench_floor. Speech is the fixtures' commands with pauses of
0.6 s; noises are made ones and, where they are at hand, recordings of machines. Truth is the mean
power of the noise alone over the same two seconds that the tracker looks back on.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np

from assistant.hearing.activity import SileroDetector
from assistant.hearing.floor import NoiseFloor
from assistant.hearing.level import measure
from assistant.hearing.noise import NOISES, Samples, active_level_db, at_level_db, from_pcm, to_pcm
from assistant.hearing.source import FRAME_SAMPLES, RATE, read_audio
from tests.hearing.clips import clip

SPEECH = Path(__file__).parents[3] / "shared" / "speech"
WORDS = ("step complete", "what torque", "stand by", "say again", "report trouble", "what is off")
VOICES = ("flite-rms", "flite-slt")
LENGTH = 24 * RATE
_WINDOW = 64


class Gated:
    """The tracker's rival: the mean of the frames that voice activity calls quiet."""

    def __init__(self) -> None:
        self._detector = SileroDetector()
        self._power: float | None = None

    @property
    def dbfs(self) -> float | None:
        """Level in dB under full scale."""
        return None if self._power is None else 10 * float(np.log10(self._power))

    def take(self, frame: bytes) -> None:
        """Take the next frame."""
        if self._detector(frame) < 0.5:
            power = 10 ** (measure(frame).dbfs / 10)
            self._power = power if self._power is None else 0.97 * self._power + 0.03 * power


def talk() -> Samples:
    """Commands with pauses."""
    said = [np.zeros(RATE)]
    while sum(map(len, said)) < LENGTH:
        number = len(said)
        spoken = from_pcm(clip(WORDS[number % len(WORDS)], VOICES[number % len(VOICES)]))
        said += [spoken, np.zeros(int(0.6 * RATE))]
    return np.concatenate(said)[:LENGTH]


def noises() -> Iterator[tuple[str, Samples]]:
    """Made noises, then recordings of at least four seconds."""
    for name, make in NOISES.items():
        yield name, make(LENGTH, RATE, 7)
    if not SPEECH.is_dir():
        return
    with (SPEECH / "manifest.csv").open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["kind"] == "noise" and float(row["seconds"]) >= 4:
                found = from_pcm(read_audio(SPEECH / row["file"]))
                if np.mean(found**2) > 1e-7:
                    yield Path(row["file"]).stem, np.resize(found, LENGTH)


def errors(
    noise: Samples, speech: Samples, snr_db: float, take: Callable[[bytes], float | None]
) -> list[float]:
    """Estimate less truth in dB, a value a frame after the first window."""
    level = active_level_db(speech, RATE) - snr_db
    bed = at_level_db(noise, level)
    total = to_pcm(speech + bed)
    powers = np.mean(bed.reshape(-1, FRAME_SAMPLES) ** 2, axis=1)
    found = []
    for number in range(len(powers)):
        frame = total[number * 2 * FRAME_SAMPLES : (number + 1) * 2 * FRAME_SAMPLES]
        estimate = take(frame)
        if number >= _WINDOW and estimate is not None:
            truth = 10 * np.log10(np.mean(powers[number - _WINDOW : number]) + 1e-12)
            found.append(estimate - float(truth))
    return found


def main() -> None:
    """Print median and 90 % error by noise and SNR, for the tracker and for gating."""
    speech = talk() * 0.5
    made: dict[float, list[float]] = {}
    rivals: dict[float, list[float]] = {}
    for name, noise in noises():
        cells = []
        for snr_db in (30.0, 20.0, 10.0, 0.0, -10.0):
            tracker, gated = NoiseFloor(), Gated()

            def follow(frame: bytes, tracker: NoiseFloor = tracker) -> float | None:
                tracker.take(measure(frame).dbfs)
                return tracker.dbfs

            def gate(frame: bytes, gated: Gated = gated) -> float | None:
                gated.take(frame)
                return gated.dbfs

            size = LENGTH // FRAME_SAMPLES * FRAME_SAMPLES
            ours = errors(noise[:size], speech[:size], snr_db, follow)
            theirs = errors(noise[:size], speech[:size], snr_db, gate)
            made.setdefault(snr_db, []).extend(ours)
            rivals.setdefault(snr_db, []).extend(theirs)
            cells.append(f"{np.median(ours):+5.1f}/{np.median(theirs):+5.1f}")
        sys.stdout.write(f"{name[:34]:34} " + "  ".join(cells) + "\n")
    for snr_db, ours in made.items():
        for title, values in (("tracker", ours), ("gated", rivals[snr_db])):
            low, mid, high = np.percentile(values, [5, 50, 95])
            sys.stdout.write(
                f"{snr_db:5.0f} dB {title:8} median {mid:+.1f}, 5..95 % {low:+.1f}..{high:+.1f}\n"
            )


if __name__ == "__main__":
    main()
