"""The sound of one clip in a trial: the room before it, the clip, the room after it.

Speech keeps its level. Noise is looped from a place in its clip that the seed chooses, and brought
so many dB under the clip's active speech level (`hearing/noise.py`, after ITU-T P.56): pauses don't
count. It begins LEAD_S before the clip and goes on after it, as in a room where a machine runs.
The noise clip and its place hang on the seed, the speaker, and the clip's name with its folder's.
So every signal-to-noise ratio and every recogniser gets the same, on every machine; and the same
words in several voices, whose files are named alike, meet different noise: rows are independent
tries, as the intervals (Wilson) take them to be.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np

from assistant.errors import AudioUnavailable, BadInput
from assistant.hearing.noise import (
    MARGIN_DB,
    Samples,
    active_level_db,
    at_level_db,
    from_pcm,
    white,
)
from assistant.hearing.room import QUIET_DBFS
from assistant.hearing.source import RATE, read_audio
from assistant.trial.manifest import Row
from assistant.trial.microphones import through

LEAD_S: Final = 2.0
"""Room before each clip: the noise floor's window (`hearing/floor.py`), so that it is known."""

_LOOP_S: Final = 12
_PEAK: Final = 0.99
_BLOCK: Final = RATE // 100
_RUN: Final = 3
"""Blocks of 10 ms in a row that make a voice; fewer are a click."""


@dataclass(frozen=True, slots=True)
class Condition:
    """Under which noise a clip is heard.

    Attributes:
        noise: its name, None where there is none.
        snr_db: speech over it, None where there is none.
    """

    noise: str | None = None
    snr_db: float | None = None


CLEAN: Final = Condition()


@dataclass(frozen=True, slots=True)
class Scene:
    """Sound ready to be heard, 16 kHz, -1 to 1.

    Attributes:
        bed: what the room sounds like, to be looped; at least 2 s.
        clip: the clip without the bed.
        voiced_s: end of the last voiced sound in the clip, from its beginning.
        noise_clip: name of the file that was mixed in, "" for none.
    """

    bed: Samples
    clip: Samples
    voiced_s: float
    noise_clip: str = ""

    @property
    def clip_s(self) -> float:
        """Length of the clip."""
        return len(self.clip) / RATE


class NoiseFolder:
    """Noise clips to be mixed in.

    Raises:
        BadInput: no such folder, or no audio in it.
    """

    def __init__(self, folder: Path, seed: int) -> None:
        if not folder.is_dir():
            raise BadInput(f"--noise {folder}: no such folder")
        endings = {".wav", ".flac", ".ogg", ".opus", ".mp3"}
        self.files = tuple(f for f in sorted(folder.iterdir()) if f.suffix.lower() in endings)
        if not self.files:
            raise BadInput(f"--noise {folder}: no audio in it ({', '.join(sorted(endings))})")
        self.name = folder.resolve().name
        self._seed = seed

    def for_row(self, row: Row, samples: int) -> tuple[str, Samples]:
        """Noise for this row's clip: its file's name, and its sound looped to this length."""
        # The folders above are left out: they differ from one machine to the next.
        key = "\0".join(
            (str(self._seed), row.speaker, row.file.absolute().parent.name, row.file.name)
        )
        # S311: nothing is secret here, the same noise must come again.
        chance = random.Random(key)  # noqa: S311
        file = chance.choice(self.files)
        noise = _samples(file)
        if not noise.any():
            raise BadInput(f"{file}: a noise of nothing but silence")
        return file.name, np.resize(np.roll(noise, -chance.randrange(len(noise))), samples)


@lru_cache(maxsize=16)  # few: the trial reports the memory that hearing takes
def _samples(file: Path) -> Samples:
    samples = from_pcm(read_audio(file))
    if not len(samples):
        raise AudioUnavailable(f"{file}: holds no sound")
    return samples


def make_scene(
    row: Row, condition: Condition, noises: NoiseFolder | None, microphone: str = ""
) -> Scene:
    """Read a row's clip, put it in its room, and hear both through a microphone.

    Raises:
        BadInput: the clip holds no speech where some is needed; says where the row stands.
        AudioUnavailable: a file can't be read.
    """
    scene = _in_room(row, condition, noises)
    bed, clip = (through(each, microphone) for each in (scene.bed, scene.clip))
    return replace(scene, bed=bed, clip=clip)


def _in_room(row: Row, condition: Condition, noises: NoiseFolder | None) -> Scene:
    try:
        clip = _samples(row.file)
        if not row.spoken:
            return Scene(_quiet(clip), clip, len(clip) / RATE)
        level_db = active_level_db(clip, RATE)
        voiced_s = last_voiced_s(clip, level_db)
        if condition.snr_db is None or noises is None:
            return Scene(_quiet(clip), clip, voiced_s)
        noise_clip, noise = noises.for_row(row, _LOOP_S * RATE)
        bed = at_level_db(noise, level_db - condition.snr_db)
        # Both are turned down where their sum could pass full scale: the ratio stays.
        peak = float(np.abs(bed).max() + np.abs(clip).max())
        gain = min(1.0, _PEAK / peak)
        return Scene(bed * gain, clip * gain, voiced_s, noise_clip)
    except (BadInput, AudioUnavailable) as problem:
        raise type(problem)(f"{row.where}: {row.file.name}: {problem}") from problem


def _quiet(clip: Samples) -> Samples:
    """The room where no noise is mixed in."""
    return at_level_db(white(_LOOP_S * RATE, seed=len(clip)), QUIET_DBFS)


def last_voiced_s(clip: Samples, level_db: float) -> float:
    """Where the speech in a clean clip ends, in seconds from the clip's beginning.

    The last run of 30 ms or more in which each 10 ms lie at most 15.9 dB (the margin of ITU-T
    P.56) under the active speech level. No voice-activity model has a say in this.
    """
    blocks = clip[: len(clip) // _BLOCK * _BLOCK].reshape(-1, _BLOCK)
    loud = (blocks**2).mean(axis=1) >= 10 ** ((level_db - MARGIN_DB) / 10)
    runs = np.convolve(loud, np.ones(_RUN), "valid") == _RUN
    ends = np.flatnonzero(runs)
    return float(ends[-1] + _RUN) * _BLOCK / RATE if len(ends) else len(clip) / RATE


def conditions_of(row: Row, noise: str | None, snrs: Sequence[float]) -> tuple[Condition, ...]:
    """Under what a row is heard: as it is, and with each noise where that can be mixed in."""
    own = Condition(row.noise or None, row.snr_db)
    if not row.spoken or noise is None or own != CLEAN:
        return (own,)
    return (CLEAN, *(Condition(noise, snr) for snr in snrs))
