"""The same utterance said a little faster or slower, as a check on what was heard."""

from __future__ import annotations

from assistant.hearing.noise import from_pcm, to_pcm
from assistant.hearing.source import RATE, resample


def stretched(pcm: bytes, pace: float) -> bytes:
    """The sound played at 1/pace of its speed: pitch and tempo change together.

    Factors of 0.9 to 1.1 are about what one person varies without meaning to (from memory: the
    usual speed perturbation in training recognisers); what is right is still heard the same.
    """
    return to_pcm(resample(from_pcm(pcm), RATE, round(RATE * pace)))
