"""Our hearing path with takes of who speaks beside it.

In a manifest the column `take` says "enroll" of clips that make their speaker's voice; they are
never heard themselves. What the others of that speaker come to is heard with it, in the same
conditions as without. Unrelated sound is heard while one of these people is at work, each in turn.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from itertools import cycle
from typing import Final

import numpy as np

from assistant.errors import AudioUnavailable, BadInput
from assistant.hearing.enrollment.engine import EnrolledEngine
from assistant.hearing.enrollment.evidence import Phrase, enrolled
from assistant.hearing.enrollment.quality import fault_of
from assistant.hearing.enrollment.spectrum import Frames, Take, take_of
from assistant.hearing.enrollment.weights import has_weights
from assistant.hearing.noise import at_level_db, from_pcm, to_pcm, white
from assistant.hearing.room import QUIET_DBFS
from assistant.hearing.source import RATE, Source, read_audio
from assistant.language.expression import normalize
from assistant.trial.listeners import Listener, Ours
from assistant.trial.manifest import Row
from assistant.trial.microphones import through
from assistant.trial.parts import engine_without

_AROUND_S: Final = 0.5
"""As much as the ear keeps before an utterance (`hearing.activity.PRE_ROLL_S`)."""


@dataclass(frozen=True)
class Enrolled:
    """Makes our ear with the takes of the speaker, nobody's for who has none.

    Attributes:
        ours: our path.
        takes: rows that `usable` gave.
        microphone: that they were spoken into; "" for their own.
    """

    ours: Ours
    takes: tuple[Row, ...]
    microphone: str = ""

    def __call__(self, source: Source, speaker: str) -> Listener:
        """An ear on this source.

        Raises:
            BadInput: takes may not stand beside this engine.
        """
        engine = engine_without(self.ours.engine, self.ours.without)
        if not has_weights(engine.name):
            raise BadInput(f"--enroll: what takes count beside {engine.name} was never measured")
        phrases = _voices(self.takes, self.microphone).get(speaker, ())
        return self.ours.listener(source, EnrolledEngine(engine, phrases))


def usable(rows: Sequence[Row], microphone: str = "") -> tuple[tuple[Row, ...], tuple[str, ...]]:
    """The rows that can be enrolled, and for each of the others why it can't.

    Raises:
        BadInput: a file can't be read; the row is named.
    """
    good, refused = [], []
    for row in rows:
        fault = fault_of(to_pcm(_sound(row, microphone)))
        if fault:
            refused.append(f'{row.where}: "{row.transcript}": {fault}')
        else:
            good.append(row)
    return tuple(good), tuple(refused)


def while_at_work(rows: Sequence[Row], takes: Sequence[Row]) -> tuple[Row, ...]:
    """The rows, unrelated sound shared out among the people of the takes."""
    people = cycle(sorted({row.speaker for row in takes}))
    return tuple(row if row.spoken else replace(row, speaker=next(people)) for row in rows)


def _sound(row: Row, microphone: str) -> Frames:
    """The take with some of the room that the other clips are heard in before and after it."""
    try:
        clip = np.pad(from_pcm(read_audio(row.file)), round(_AROUND_S * RATE))
        return through(clip + at_level_db(white(len(clip), len(clip)), QUIET_DBFS), microphone)
    except AudioUnavailable as problem:
        raise BadInput(f"{row.where}: {problem}") from problem


@cache
def _voices(takes: tuple[Row, ...], microphone: str) -> Mapping[str, tuple[Phrase, ...]]:
    """Each speaker's phrases, made once a process."""
    found: dict[str, dict[str, list[tuple[Take, Frames]]]] = {}
    for row in takes:
        sound = _sound(row, microphone)
        words = " ".join(normalize(row.transcript))
        found.setdefault(row.speaker, {}).setdefault(words, []).append((take_of(sound), sound))
    return {speaker: enrolled(each) for speaker, each in found.items()}
