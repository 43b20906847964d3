"""Fits what enrolled takes count beside the pair: `python -m tests.hearing.fit_enrollment`.

People for development (`enrolled_people.unheard_speakers`), whom the pair's model was not trained
on, say words that they have enrolled, clean and under recorded machines; other people say what is
no command. Everything is heard against the same phrases, of which each person has enrolled a few.
Prints the file that the package ships.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import yaml

from assistant.acoustics.fit_pair import learned, passing
from assistant.acoustics.trials import PHRASES
from assistant.engines import open_engine
from assistant.hearing.engines import Engine, Recognized
from assistant.hearing.enrollment.engine import evidence_of
from assistant.hearing.enrollment.evidence import Nearness, Phrase, enrolled, nearness
from assistant.hearing.enrollment.spectrum import take_of
from assistant.hearing.noise import Samples, to_pcm
from assistant.hearing.source import FRAME_BYTES
from assistant.language.grammar import Grammar
from assistant.trial.phrases import of_list
from tests.hearing.enrolled_people import Trial, in_room, sound, turns, unheard_speakers, unrelated

ROOMS = (None, 10.0, 5.0)
NAMES = ("odds", "lead", "fit")
LEAST = 0.6
"""The pair's bar of a question: no take makes a command of what it would not act on. Of unrelated
speech for development, what it was less sure of than this and takes agreed with came to 0.52."""

FEWEST = 4
"""Words that a person must have enrolled to be tried with unrelated speech."""


@dataclass(frozen=True)
class Case:
    """An utterance as the engine and a person's takes have it; `word` is "" for no command."""

    speaker: str
    word: str
    snr_db: float | None
    found: Recognized
    near: tuple[Nearness, ...]


def grammar() -> Grammar:
    """What may be said: 58 phrases, at the cost of an ordinary command."""
    return of_list("\n".join(PHRASES), "enrollment", "en").unrelated()


def phrases_of(trial: Trial) -> tuple[Phrase, ...]:
    """A person's templates."""
    takes = {}
    for word, clips in sorted(trial.enrolled.items()):
        sounds = [in_room(clip, None, 1) for clip in clips]
        takes[word] = [(take_of(each), each) for each in sounds]
    return enrolled(takes)


def listened(engine: Engine, samples: Samples) -> Recognized:
    """The engine's result for a whole utterance."""
    engine.start()
    pcm = to_pcm(samples)
    for at in range(0, len(pcm), FRAME_BYTES):
        engine.feed(pcm[at : at + FRAME_BYTES])
    return engine.finish()


def words(
    engine: Engine, names: Sequence[str], rooms: Sequence[float | None], half: int
) -> Iterator[Case]:
    """Every take of these people in turn, with their others enrolled, in each room."""
    for number, trial in enumerate(turns(names)):
        phrases = phrases_of(trial)
        for turn, (word, clip) in enumerate(trial.said):
            for room, snr_db in enumerate(rooms):
                noisy = in_room(clip, snr_db, 1000 * number + 7 * turn + room, half)
                found = listened(engine, noisy)
                yield Case(trial.speaker, word, snr_db, found, nearness(phrases, noisy))


def others(engine: Engine, names: Sequence[str], part: int) -> Iterator[Case]:
    """Each utterance that is no command, beside the takes of each of these people."""
    people: dict[str, tuple[Phrase, ...]] = {}
    for trial in turns(names):
        if len(trial.enrolled) >= FEWEST and trial.speaker not in people:
            people[trial.speaker] = phrases_of(trial)
    for number, path in enumerate(unrelated(part)):
        said = in_room(sound(path), None, number)
        found = listened(engine, said)
        for speaker, phrases in people.items():
            yield Case(speaker, "", None, found, nearness(phrases, said))


def lines_of(case: Case) -> Iterator[dict[str, Any]]:
    """The evidence for what the engine heard, where it has takes, and whether it was said."""
    for near in case.near:
        if near.text == case.found.text:
            evidence = evidence_of(case.found.confidence, near)
            yield {"evidence": evidence, "right": near.text == case.word, "set": "people"}


def main() -> None:
    """Fit and print."""
    engine, names = open_engine("pair"), unheard_speakers()[0]
    engine.use(grammar())
    spoken = list(words(engine, names, ROOMS, 0))
    beside = list(others(engine, names, 0))
    lines = [line for case in (*spoken, *beside) for line in lines_of(case)]
    weights = learned(lines, NAMES)
    origin = (
        "Logistic regression (tests/hearing/fit_enrollment.py) over what the pair heard in "
        f"{len(spoken)} words of {len(names)} people for development that en-shop-1 was not "
        "trained on, clean and under recorded machines at 10 and 5 dB, and in "
        f"{len(unrelated(0))} utterances that are no command, beside the takes of each of these "
        "people; only where what was heard has takes. Passing: "
        + " ".join(passing(lines, weights).split("phrasebook")[0].split())
    )
    shipped = {engine.name: {"origin": origin, "least": LEAST, "weights": weights}}
    yaml.safe_dump(shipped, sys.stdout, sort_keys=False, width=100)


if __name__ == "__main__":
    main()
