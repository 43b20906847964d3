"""`python -m tests.end_to_end.stop_table`: every read-back by voice, what passed and what did not.

    --voice NAME   only this held-out voice
    --engine NAME  the recognizer; the default one if left out
    --seed N       of the challenge numbers
    --noise KIND --snr DB   a noisy room instead of a quiet one
    --every-digit  each number that is one digit away from the asked one, instead of a few
    --people-only  neither the assistant's own voice nor noises, which no other voice changes
    --verbose      every try
    --out FOLDER   the record goes here, and the sound of whatever passed wrongly

Prints what is measured and exits with 1 when something passed that must not.
"""

from __future__ import annotations

import argparse
import random
import sys
import tempfile
from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path

import soundfile

from assistant.cli.live_options import ENGINE
from assistant.engines import open_engine
from assistant.hearing.noise import from_pcm
from assistant.hearing.room import KINDS, QUIET, Room
from assistant.hearing.source import RATE
from assistant.speaking.renderer import Renderer
from tests.end_to_end import stop_tries as tries
from tests.end_to_end.stop_verdict import Try
from tests.end_to_end.stops_by_voice import HELD_OUT, TRIES, VoiceJob

CASES = (
    "echo",
    "own prompt",
    "own sentence",
    "say again",
    "wrong words",
    "wrong digit",
    "old number",
    "while speaking",
    "across the end",
    "half of it",
    "unrelated",
    "silence",
    "noise",
)


def main() -> int:
    """Play the jobs and print the tables."""
    options = _options()
    voices = (options.voice,) if options.voice else HELD_OUT
    done: list[Try] = []
    with Renderer() as renderer, Renderer("en-gb") as other:
        engine = open_engine(options.engine)
        for number, voice in enumerate(voices):
            job = VoiceJob(
                options.out / voice,
                engine,
                renderer,
                other,
                seed=options.seed + number,
                room=Room(options.noise, options.snr),
            )
            for tried in _one_job(job, voice, renderer, other, options):
                done.append(tried)
                if tried.passed != (tried.case == "right") or options.verbose:
                    _tell(_line(tried))
            whole = job.on_record() == job.bay.state
            _tell(f"{voice}: the record replays to the state: {whole}")
            job.close()
    _print_tables(done)
    return _wrongly_passed(done, options.out)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--voice", choices=HELD_OUT)
    parser.add_argument("--engine", default=ENGINE)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--noise", choices=KINDS, default=QUIET)
    parser.add_argument("--snr", type=float)
    parser.add_argument("--every-digit", action="store_true")
    parser.add_argument("--people-only", action="store_true", help="not the assistant's own voice")
    parser.add_argument("--verbose", action="store_true")
    parser.add_argument("--out", type=Path, default=None)
    options = parser.parse_args()
    options.out = options.out or Path(tempfile.mkdtemp(prefix="gloveson-stops-"))
    return options


def _one_job(
    job: VoiceJob, voice: str, renderer: Renderer, other: Renderer, options: argparse.Namespace
) -> Iterator[Try]:
    for place in job.places():
        seconds = len(job.prompt()[1]) / 2 / RATE
        _tell(f"{voice}: {place}, prompt of {seconds:.1f} s, number {job.number}")
        for tried in _at_one_place(job, voice, renderer, other, options):
            yield tried
            if tried.passed:
                break


def _at_one_place(
    job: VoiceJob, voice: str, renderer: Renderer, other: Renderer, options: argparse.Namespace
) -> Iterator[Try]:
    """Everything that must not pass, the right read-back last; to be left once one passed."""
    chooser = random.Random(options.seed)  # noqa: S311 - the same in every run
    yield job.sounds("echo", "the prompt, as it is said", b"")
    if not options.people_only:
        yield from tries.own_prompt(job, renderer)
    yield from tries.wrong_words(job, voice)
    if options.every_digit:
        yield from tries.every_wrong_digit(job, voice)
    else:
        yield from tries.some_wrong_digits(job, voice, chooser, 4)
    yield tries.old_number(job, voice)
    if not options.people_only:
        yield tries.said_again(job)
    yield tries.while_speaking(job, voice)
    yield tries.across_the_end(job, voice)
    yield from tries.halves(job, voice)
    if not options.people_only:
        yield from tries.unrelated(job, other)
    yield from tries.right(job, voice, TRIES)


def _line(tried: Try) -> str:
    verdict = "PASSED" if tried.passed else tried.verdict
    return f"  {tried.case}: {verdict} [{tried.asked}] {tried.sound} | {'; '.join(tried.heard)}"


def _tell(text: str) -> None:
    sys.stdout.write(f"{text}\n")
    sys.stdout.flush()


def _print_tables(done: list[Try]) -> None:
    _tell("\n| read-back | prompt | right: passed, of tries | refused |\n|---|---|---|---|")
    for place in dict.fromkeys(tried.place for tried in done):
        here = [tried for tried in done if tried.place == place]
        rights = [tried for tried in here if tried.case == "right"]
        others = [tried for tried in here if tried.case != "right"]
        said = [len(t.pcm) / 2 / RATE for t in here if t.case == "own prompt"]
        prompt = f"{max(said):.1f} s" if said else "-"
        sure = ", ".join(tried.heard[-1] for tried in rights if tried.passed)
        refused = sum(not tried.passed for tried in others)
        _tell(f"| {place} | {prompt} | {sure}; {len(rights)} | {refused} of {len(others)} |")
    _tell("\n| tried | times | passed | why refused | nearest to the asked read-back |")
    _tell("|---|---|---|---|---|")
    for case in CASES:
        here = [tried for tried in done if tried.case == case]
        if here:
            wrong = sum(tried.passed for tried in here)
            _tell(f"| {case} | {len(here)} | {wrong} | {_why(here)} | {_nearest(here)} |")


def _why(here: Iterable[Try]) -> str:
    counts = Counter(tried.verdict for tried in here if not tried.passed)
    return ", ".join(f"{verdict} {count}" for verdict, count in counts.most_common())


def _nearest(here: Iterable[Try]) -> str:
    """The highest confidence with which the engine heard the asked words and number in these."""
    near = max(tried.nearest for tried in here)
    return f"{near:.2f}" if near else "-"


def _wrongly_passed(done: list[Try], out: Path) -> int:
    wrong = [tried for tried in done if tried.passed and tried.case != "right"]
    for number, tried in enumerate(wrong, start=1):
        file = out / f"passed-wrongly-{number}.wav"
        soundfile.write(file, from_pcm(tried.pcm), RATE)
        _tell(f"PASSED WRONGLY: {_line(tried)} -> {file}")
    _tell(f"\n{len(done)} tries; passed wrongly: {len(wrong)}")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
