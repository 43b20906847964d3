"""Fits what enrolled takes count beside an engine: `python -m tests.hearing.fit_enrollment`.

The development speakers (`enrolled_people`) say words that they have enrolled, and strangers say
what is no command. PocketSphinx hears them: unlike the shipped Vosk model, it was
trained on none of them. Each engine's confidence is a fitted likelihood, so the same weights stand
beside each. Prints the file that the package ships.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import yaml

from assistant.acoustics.fit_pair import learned, passing
from assistant.hearing.engines import Engine, Recognized
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.enrollment.engine import evidence_of
from assistant.hearing.enrollment.evidence import Nearness, Phrase, enrolled, nearness
from assistant.hearing.enrollment.spectrum import take_of
from assistant.hearing.noise import Samples, to_pcm
from assistant.hearing.source import FRAME_BYTES
from assistant.language.grammar import Grammar
from assistant.trial.phrases import of_list
from tests.hearing.enrolled_people import SPEECH, Trial, in_room, sound, speakers, trials

ROOMS = (None, 10.0)
NAMES = ("chosen", "odds", "lead", "fit")


@dataclass(frozen=True)
class Case:
    """An utterance as the engine and the takes have it; `word` is "" for what is no command."""

    speaker: str
    word: str
    snr_db: float | None
    grammar: Grammar
    found: Recognized
    near: tuple[Nearness, ...]


def phrases_of(trial: Trial, share: int = 1) -> tuple[Phrase, ...]:
    """A person's templates; of every `share`-th word."""
    takes = {}
    for word, clips in sorted(trial.enrolled.items())[::share]:
        sounds = [in_room(clip, None, 1) for clip in clips]
        takes[word] = [(take_of(each), each) for each in sounds]
    return enrolled(takes)


def grammar_of(trial: Trial) -> Grammar:
    """The person's words, all admitted."""
    return of_list("\n".join(trial.enrolled), trial.speaker, "en").unrelated()


def strangers(part: int) -> list[Samples]:
    """What people say that is no command: an even or odd half, so that test has its own."""
    with (SPEECH / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] == "distractor"]
    return [sound(SPEECH / row["file"]) for row in rows[part::2]]


def listened(engine: Engine, samples: Samples) -> Recognized:
    """The engine's result for a whole utterance."""
    engine.start()
    pcm = to_pcm(samples)
    for at in range(0, len(pcm), FRAME_BYTES):
        engine.feed(pcm[at : at + FRAME_BYTES])
    return engine.finish()


def cases(
    engine: Engine, names: Sequence[str], rooms: Sequence[float | None], part: int
) -> Iterator[Case]:
    """Everything that is said, heard once."""
    others = strangers(part)
    for number, trial in enumerate(trials(list(names))):
        grammar = grammar_of(trial)
        engine.use(grammar)
        phrases = phrases_of(trial)
        said = [(w, c, snr) for w, c in trial.said for snr in rooms]
        said += [("", clip, None) for clip in others[number::29][:3]]
        for turn, (word, clip, snr_db) in enumerate(said):
            noisy = in_room(clip, snr_db, 1000 * number + turn // len(rooms), half=part)
            found, near = listened(engine, noisy), nearness(phrases, noisy)
            yield Case(trial.speaker, word, snr_db, grammar, found, near)


def lines_of(case: Case) -> Iterator[dict[str, Any]]:
    """The evidence for what might be believed, and whether that would be right."""
    for place, near in enumerate(case.near):
        same = case.found.text == near.text
        if same or place == 0:
            evidence = evidence_of(case.found.confidence if same else None, near)
            yield {"evidence": evidence, "right": near.text == case.word, "set": "people"}


def main() -> None:
    """Fit and print."""
    heard = list(cases(PocketSphinxEngine(), speakers()[0], ROOMS, 0))
    lines = [line for case in heard for line in lines_of(case)]
    weights = learned(lines, NAMES)
    origin = (
        "Logistic regression (tests/hearing/fit_enrollment.py) over "
        f"{sum(bool(c.word) for c in heard)} words of {len(speakers()[0])} development speakers, "
        "clean and under recorded machines at 10 dB, and "
        f"{sum(not c.word for c in heard)} utterances of other people that are no command, heard "
        "by PocketSphinx. Passing: "
        + " ".join(passing(lines, weights).split("phrasebook")[0].split())
    )
    shipped = {
        name: {"origin": origin, "weights": weights} for name in ("pocketsphinx", "vosk", "pair")
    }
    yaml.safe_dump(shipped, sys.stdout, sort_keys=False, width=100)


if __name__ == "__main__":
    main()
