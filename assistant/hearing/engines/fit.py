"""How well an utterance fits the words that were found, seen from a free loop of phones.

Scores are natural logarithms of likelihood relative to the best state of each frame (so 0 is the
best there can be), per frame of 10 ms.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Final

_SHIFT: Final = 1024
"""PocketSphinx keeps scores in steps of 1024 log units (SENSCR_SHIFT = 10, its source)."""

_SLACK_FRAMES: Final = 6
_SILENT_PHONES: Final = frozenset({"SIL", "+SPN+", "+NSN+"})


@dataclass(frozen=True, slots=True)
class Segment:
    """A word or phone: its name, first and last frame, and acoustic score."""

    name: str
    first: int
    last: int
    score: float

    @property
    def frames(self) -> int:
        """How long it lasts."""
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True)
class Decoding:
    """One decoding of a whole utterance.

    Attributes:
        text: the words, "" when no path was found.
        score: of the path with its language part, over all frames.
        frames: number of frames.
        segments: in order.
        pcm: the sound that was decoded.
    """

    text: str
    score: float
    frames: int
    segments: tuple[Segment, ...]
    pcm: bytes


def decode(decoder: Any, pcm: bytes) -> Decoding:  # noqa: ANN401 - the library ships no types
    """Decode a whole utterance with the search that is active in a PocketSphinx decoder."""
    decoder.start_utt()
    decoder.process_raw(pcm, no_search=False, full_utt=True)
    decoder.end_utt()
    hypothesis = decoder.hyp()
    if hypothesis is None:
        return Decoding("", -math.inf, max(1, decoder.n_frames()), (), pcm)
    segments = tuple(
        Segment(found.word, found.start_frame, found.end_frame, _nats(found.ascore))
        for found in decoder.seg()
    )
    text = str(hypothesis.hypstr or "").strip()
    return Decoding(text, _nats(hypothesis.score), max(1, decoder.n_frames()), segments, pcm)


def _nats(likelihood: float) -> float:
    return math.log(likelihood) * _SHIFT if likelihood > 0 else -745.0 * _SHIFT


def evidence(
    words: Decoding, loop: Decoding, pronounce: Callable[[str], Sequence[str]]
) -> dict[str, float]:
    """The evidence that the words were said.

    Args:
        words: the decoding by the grammar.
        loop: the same sound decoded by the phone loop.
        pronounce: the phones of a word as the decoding names it ("and(2)").

    Returns:
        worst: score of the word that fits worst.
        outside: score of the frames that belong to no word: low when there was other speech.
        path: whole path less that of the loop, a frame of the words.
        acoustic: acoustic part of the same.
        phones: minus the share of the words' phones that the loop did not find in their place.
        extra: minus the share of phones that the loop found too many or too few in all.
    """
    spoken = spoken_words(words)
    if not spoken:
        return {}
    frames = sum(found.frames for found in spoken)
    outside = [found for found in words.segments if found.name[0] in "<[+"]
    heard = [found for found in loop.segments if found.name not in _SILENT_PHONES]
    wanted = [(found, pronounce(found.name)) for found in spoken]
    count = max(1, sum(len(phones) for _, phones in wanted))
    missed = sum(_missed(phones, _within(heard, found)) for found, phones in wanted)
    acoustic = sum(f.score for f in words.segments) - sum(f.score for f in loop.segments)
    return {
        "worst": worst_word(words),
        "outside": sum(found.score for found in outside) / max(1, words.frames - frames),
        "path": (words.score - loop.score) / frames,
        "acoustic": acoustic / frames,
        "phones": -missed / count,
        "extra": -abs(len(heard) - count) / count,
    }


def spoken_words(words: Decoding) -> list[Segment]:
    """The segments that are words, neither silence nor noise."""
    return [found for found in words.segments if found.name[0] not in "<[+("]


def worst_word(words: Decoding) -> float:
    """Score a frame of the word that fits worst; minus infinity without words."""
    scores = [found.score / found.frames for found in spoken_words(words)]
    return min(scores, default=-math.inf)


def _within(heard: Sequence[Segment], word: Segment) -> list[str]:
    return [
        found.name
        for found in heard
        if found.last >= word.first - _SLACK_FRAMES and found.first <= word.last + _SLACK_FRAMES
    ]


def _missed(wanted: Sequence[str], heard: Sequence[str]) -> int:
    """Least number of edits that make some stretch of what was heard into what was wanted."""
    row = [0] * (len(heard) + 1)
    for number, phone in enumerate(wanted, start=1):
        above, row = row, [number]
        for at, other in enumerate(heard, start=1):
            row.append(min(above[at] + 1, row[at - 1] + 1, above[at - 1] + (phone != other)))
    return min(row)
