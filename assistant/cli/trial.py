"""`gloveson trial`: how well labelled audio is heard."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from assistant.cli.live_options import ENGINE
from assistant.cli.output import ALL_RIGHT, answer, answer_json, tell
from assistant.errors import BadInput

if TYPE_CHECKING:
    from assistant.trial import NoiseFolder, Phrases, Row, Table

_PARTS: Final = (
    "rejection",
    "early-decision",
    "endpointing",
    "voice-activity",
    "variation",
    "floor",
    "masking",
    "second-opinion",
    "n-best",
    "one-spelling",
    "word-pairs",
)
_RATIOS: Final = "20,10,5,0"


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "trial",
        help="measure recognition on labelled audio",
        description="Plays labelled clips to the assistant's hearing and to the same engine "
        "driven plainly: accuracy by condition, false accepts an hour, latency, speed, memory. "
        "MANIFEST has the columns file, kind (command, reading, speech, noise), transcript, "
        "speaker, snr_db and, if wanted, noise.",
    )
    command.add_argument("manifest", type=Path, metavar="MANIFEST.csv")
    command.add_argument(
        "--engine", default=ENGINE, help="pair, pocketsphinx, or vosk with --model"
    )
    command.add_argument("--model", help="the engine's model: a name or a folder")
    command.add_argument(
        "--phrases",
        type=Path,
        metavar="FILE",
        help="a phrasebook (.yaml) or a text file with one phrase a line; else the packaged one",
    )
    command.add_argument("--language", default="en", help="of the phrases (en)")
    command.add_argument("--noise", type=Path, metavar="FOLDER", help="noise clips to mix in")
    command.add_argument(
        "--snr", metavar="DB,DB", help=f"speech over that noise, in dB ({_RATIOS})"
    )
    command.add_argument("--seed", type=int, default=1, help="which noise meets which clip")
    command.add_argument("--without", choices=_PARTS, help="switch one part of our path off")
    command.add_argument(
        "--only", choices=("ours", "plain"), help="measure one of the two ways of hearing"
    )
    command.add_argument("--limit", type=_count, metavar="N", help="so many clips of each kind")
    command.add_argument("--jobs", type=_count, default=1, metavar="N", help="processes (1)")
    command.add_argument("--plots", type=Path, metavar="DIR", help="write plots there, as PNG")
    command.add_argument(
        "--lines", type=Path, metavar="FILE", help="write every clip's result there, JSON a line"
    )
    command.add_argument("--json", action="store_true", help="the figures as JSON on stdout")
    command.set_defaults(run=run)


def _count(text: str) -> int:
    number = int(text)
    if number < 1:
        msg = f"{text}: at least 1 is needed"
        raise argparse.ArgumentTypeError(msg)
    return number


def run(given: argparse.Namespace) -> int:
    """Run the trial both ways and print what came out."""
    # Imported here: the audio libraries take a second to load, and only this needs them.
    from assistant import trial  # noqa: PLC0415
    from assistant.engines import open_engine  # noqa: PLC0415
    from assistant.trial.report import report  # noqa: PLC0415

    plot = _plotter(given.plots)
    engine = f"{given.engine}:{given.model}" if given.model else given.engine
    snrs = _ratios(given)
    noises = trial.NoiseFolder(given.noise, given.seed) if given.noise else None
    rows = trial.spread(trial.read_manifest(given.manifest), given.limit)
    phrases = partial(trial.read_phrases, given.phrases, given.language)
    phrases().check(rows)
    model = open_engine(engine).model
    ways: dict[str, trial.MakeListener] = {
        "ours": trial.Ours(engine, given.without),
        "plain": trial.Plain(engine),
    }
    if given.only:
        ways = {given.only: ways[given.only]}
    hear = partial(_hear, rows, phrases, noises, snrs, given.jobs)
    tables = {name: hear(name, make) for name, make in ways.items()}
    if given.lines:
        _write_lines(given.lines, tables)
    plot(tables)
    head = f"{given.engine}: {model}{f', without {given.without}' if given.without else ''}"
    people = tell if given.json else answer
    people(f"{head}\n{report(tables)}")
    if given.json:
        shown = {name: table.as_json() for name, table in tables.items()}
        without = {"without": given.without} if given.without else {}
        answer_json({"engine": given.engine, "model": model, **without, **shown})
    return ALL_RIGHT


def _hear(  # noqa: PLR0913, PLR0917 - what is tried, and how
    rows: tuple[Row, ...],
    phrases: Callable[[], Phrases],
    noises: NoiseFolder | None,
    snrs: tuple[float, ...],
    jobs: int,
    name: str,
    make: Any,  # noqa: ANN401 - MakeListener, known at run time only
) -> Table:
    from tqdm import tqdm  # noqa: PLC0415 - only this command shows progress

    from assistant import trial  # noqa: PLC0415 - as above

    total = trial.clips_to_hear(rows, noises, snrs)
    with tqdm(total=total, desc=name, unit="clip", mininterval=_every_s()) as bar:
        return trial.run_trial(
            rows, make, phrases, noises=noises, snrs=snrs, jobs=jobs, progress=bar.update
        )


def _every_s() -> float:
    """How often the bar is drawn: seldom where each drawing is a line in a file."""
    return 0.2 if sys.stderr.isatty() else 30.0


def _ratios(given: argparse.Namespace) -> tuple[float, ...]:
    if given.snr is not None and given.noise is None:
        msg = "--snr needs --noise FOLDER: the noise that is to be mixed in"
        raise BadInput(msg)
    if given.noise is None:
        return ()
    try:
        ratios = tuple(dict.fromkeys(float(part) for part in (given.snr or _RATIOS).split(",")))
    except ValueError:
        ratios = ()
    if not ratios or not all(-20 <= ratio <= 60 for ratio in ratios):  # also no number (nan)
        msg = f"--snr {given.snr}: numbers from -20 to 60 are wanted, as in {_RATIOS}"
        raise BadInput(msg)
    return ratios


def _plotter(folder: Path | None) -> Callable[[dict[str, Table]], None]:
    """What draws the plots; asked for before the trial, so that a missing library shows at once."""
    if folder is None:
        return lambda _tables: None
    from assistant.trial.plots import draw, require_library  # noqa: PLC0415 - an extra

    require_library()

    def plot(tables: dict[str, Table]) -> None:
        for file in draw(tables, folder):
            tell(f"written: {file}")

    return plot


def _write_lines(file: Path, tables: dict[str, Table]) -> None:
    try:
        with file.open("w", encoding="utf-8") as lines:
            for name, table in tables.items():
                for result in table.results:
                    entry = {"way": name, **result.as_json()}
                    lines.write(json.dumps(entry, ensure_ascii=False) + "\n")
    except OSError as problem:
        msg = f"--lines {file}: can't be written: {problem.strerror}"
        raise BadInput(msg) from problem
