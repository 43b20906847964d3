"""What the takes say about an utterance: which phrase is nearest, how clearly, how well."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from assistant.errors import BadInput
from assistant.hearing.enrollment.spectrum import Frames, Take, compared
from assistant.hearing.enrollment.warping import distances
from assistant.language.intent import Cost

ENGINES_OWN: Final = frozenset({Cost.VALUE, Cost.READ_BACK})
"""Cost classes of what holds numbers: takes have no say there."""

FARTHEST: Final = 3.0
"""Times the phrase's usual distance; more says nothing new."""


@dataclass(frozen=True, slots=True)
class Phrase:
    """A phrase that a person has enrolled.

    Attributes:
        text: its words.
        takes: recordings of it.
        usual: distance between the person's own takes of it; that of a typical phrase of theirs
            where there is only one take.
    """

    text: str
    takes: tuple[Take, ...]
    usual: float


@dataclass(frozen=True, slots=True)
class Nearness:
    """How near an utterance is to a phrase.

    Attributes:
        text: the phrase.
        fit: distance over the phrase's usual one, at most `FARTHEST`; about 1 when well said.
        lead: how much farther the next phrase is, over the usual distance; below 0 when another
            is nearer; 0 when there is no other that it can be held against.
    """

    text: str
    fit: float
    lead: float


def enrolled(takes: Mapping[str, Sequence[tuple[Take, Frames]]]) -> tuple[Phrase, ...]:
    """A person's phrases, with the usual distance of each from its own takes left out in turn.

    Args:
        takes: by phrase, each with the sound it was made of (16 kHz, -1 to 1).
    """
    own: dict[str, float] = {}
    for text, each in takes.items():
        gaps = [
            float(distances(compared([t for j, (t, _) in enumerate(each) if j != i], sound)).min())
            for i, (_, sound) in enumerate(each)
            if len(each) > 1
        ]
        finite = [gap for gap in gaps if np.isfinite(gap)]
        if finite:
            own[text] = float(np.mean(finite))
    typical = float(np.median(list(own.values()))) if own else 1.0
    return tuple(
        Phrase(text, tuple(take for take, _ in each), max(own.get(text, typical), typical / 2))
        for text, each in takes.items()
    )


def nearness(phrases: Sequence[Phrase], sound: Frames) -> tuple[Nearness, ...]:
    """How near an utterance is to each phrase, the nearest first; empty where it can't be told.

    Args:
        phrases: those that may be meant now.
        sound: the utterance, 16 kHz, -1 to 1.
    """
    if not phrases:
        return ()
    try:
        far = distances(compared([take for p in phrases for take in p.takes], sound))
    except BadInput:  # a click: nothing to compare
        return ()
    ends = np.cumsum([len(p.takes) for p in phrases])
    least = [float(part.min()) for part in np.split(far, ends[:-1])]
    found = []
    for at, phrase in enumerate(phrases):
        others = min((d for j, d in enumerate(least) if j != at), default=np.inf)
        fit = min(least[at] / phrase.usual, FARTHEST)
        lead = (others - least[at]) / phrase.usual if np.isfinite(others) else 0.0
        found.append(Nearness(phrase.text, fit, float(np.clip(lead, -FARTHEST, FARTHEST))))
    return tuple(sorted(found, key=lambda near: (-near.lead, near.fit)))


def too_alike(
    takes: Mapping[str, Sequence[tuple[Take, Frames]]], phrases: Sequence[Phrase]
) -> tuple[tuple[str, str], ...]:
    """Pairs of phrases where some take of one is nearer to the other than to its own."""
    pairs = set()
    for phrase in phrases:
        for take, sound in takes[phrase.text]:
            rest = tuple(t for t in phrase.takes if t is not take)
            if not rest:
                continue
            left = [Phrase(phrase.text, rest, phrase.usual), *_without(phrases, phrase.text)]
            nearest = nearness(left, sound)[:1]
            pairs |= {(phrase.text, n.text) for n in nearest if n.text != phrase.text}
    return tuple(sorted({(min(pair), max(pair)) for pair in pairs}))


def _without(phrases: Iterable[Phrase], text: str) -> list[Phrase]:
    return [phrase for phrase in phrases if phrase.text != text]
