"""The same utterance a little otherwise: another pace, or with a little more noise under it."""

from __future__ import annotations

from assistant.errors import BadInput
from assistant.hearing.noise import active_level_db, at_level_db, from_pcm, pink, to_pcm
from assistant.hearing.source import RATE, resample


def stretched(pcm: bytes, pace: float) -> bytes:
    """The sound played at 1/pace of its speed: pitch and tempo change together.

    Factors of 0.9 to 1.1 are about what one person varies without meaning to (from memory: the
    usual speed perturbation in training recognisers); what is right is still heard the same.
    """
    if pace == 1.0:
        return pcm
    return to_pcm(resample(from_pcm(pcm), RATE, round(RATE * pace)))


def with_floor(pcm: bytes, below_db: float, seed: int) -> bytes:
    """The sound over pink noise so many dB under its active speech level.

    Recognisers trained on recordings expect a room; very clean sound makes them find words in
    its silences. What holds no speech at all comes back as it is.
    """
    samples = from_pcm(pcm)
    try:
        level = active_level_db(samples, RATE) - below_db
    except BadInput:
        return pcm
    return to_pcm(samples + at_level_db(pink(len(samples), seed), level))
