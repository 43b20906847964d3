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
    from assistant.trial import MakeListener, NoiseFolder, Phrases, Row, Table

PARTS: Final = (
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
"""As in `trial/parts.py`, which takes long to load; a test holds them together."""

_MICROPHONES: Final = ("telephone", "headset")
_RATIOS: Final = "20,10,5,0"


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "trial",
        help="measure recognition on labelled audio",
        description="Plays labelled clips to the assistant's hearing and to the same engine "
        "driven plainly: accuracy by condition, false accepts an hour, latency, speed, memory. "
        "MANIFEST has the columns file, kind (command, reading, speech, noise), transcript, "
        "speaker, snr_db and, if wanted, noise and take (enroll, test).",
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
    command.add_argument("--without", choices=PARTS, help="switch one part of our path off")
    command.add_argument(
        "--only", choices=("ours", "plain"), help="measure one of the two ways of hearing"
    )
    command.add_argument(
        "--enroll",
        action="store_true",
        help="hear everybody also with their own takes: the rows with enroll under take",
    )
    command.add_argument(
        "--microphone", choices=_MICROPHONES, help="what is heard comes through such a microphone"
    )
    command.add_argument(
        "--enroll-microphone", choices=_MICROPHONES, help="the takes were recorded through this one"
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
    listed = trial.read_manifest(given.manifest)
    rows = trial.spread([row for row in listed if not row.enroll], given.limit)
    phrases = partial(trial.read_phrases, given.phrases, given.language)
    phrases().check(listed)
    takes = _takes(given, listed)
    if takes:
        rows = trial.while_at_work(rows, takes)
    model = open_engine(engine).model
    ways = _ways(given, engine, takes)
    hear = partial(_hear, rows, phrases, noises, snrs, given.microphone or "", given.jobs)
    tables = {name: hear(name, make) for name, make in ways.items()}
    if given.lines:
        _write_lines(given.lines, tables)
    plot(tables)
    people = tell if given.json else answer
    people(f"{given.engine}: {model}{_set_otherwise(given)}\n{report(tables)}")
    if given.json:
        shown = {name: table.as_json() for name, table in tables.items()}
        chosen = ("without", "microphone", "enroll_microphone")
        set_so = {name: getattr(given, name) for name in chosen if getattr(given, name)}
        answer_json({"engine": given.engine, "model": model, **set_so, **shown})
    return ALL_RIGHT


def _set_otherwise(given: argparse.Namespace) -> str:
    """What is not as it comes, for the table's head."""
    takes = given.enroll_microphone
    said = (
        given.without and f", without {given.without}",
        given.microphone and f", through a {given.microphone}",
        takes and f", takes through a {takes}",
    )
    return "".join(part for part in said if part)


def _takes(given: argparse.Namespace, listed: tuple[Row, ...]) -> tuple[Row, ...]:
    """The takes that people are enrolled with, none unless that is asked for.

    Raises:
        BadInput: the options don't go together, or there is no take that can be used.
    """
    from assistant.trial import usable  # noqa: PLC0415 - loads the audio libraries

    if not given.enroll:
        if given.enroll_microphone:
            raise BadInput("--enroll-microphone needs --enroll")
        return ()
    if given.only == "plain":
        raise BadInput("--enroll needs ours: the engine by itself knows no takes")
    good, refused = usable([row for row in listed if row.enroll], given.enroll_microphone or "")
    for problem in refused:
        tell(f"not used: {problem}")
    if not good:
        msg = f'--enroll: {given.manifest} holds no take that can be used ("enroll" under take)'
        raise BadInput(msg)
    return good


def _ways(
    given: argparse.Namespace, engine: str, takes: tuple[Row, ...]
) -> dict[str, MakeListener]:
    """What hears, by the name that stands in the table."""
    from assistant import trial  # noqa: PLC0415 - as above

    ours = trial.Ours(engine, given.without)
    ways: dict[str, MakeListener] = {"ours": ours}
    if takes:
        ways["takes"] = trial.Enrolled(ours, takes, given.enroll_microphone or "")
    ways["plain"] = trial.Plain(engine)
    if given.only == "plain":
        return {"plain": ways["plain"]}
    return {name: way for name, way in ways.items() if given.only is None or name != "plain"}


def _hear(  # noqa: PLR0913, PLR0917 - what is tried, and how
    rows: tuple[Row, ...],
    phrases: Callable[[], Phrases],
    noises: NoiseFolder | None,
    snrs: tuple[float, ...],
    microphone: str,
    jobs: int,
    name: str,
    make: Any,  # noqa: ANN401 - MakeListener, known at run time only
) -> Table:
    from tqdm import tqdm  # noqa: PLC0415 - only this command shows progress

    from assistant import trial  # noqa: PLC0415 - as above

    total = trial.clips_to_hear(rows, noises, snrs)
    with tqdm(total=total, desc=name, unit="clip", mininterval=_every_s()) as bar:
        return trial.run_trial(
            rows,
            make,
            phrases,
            noises=noises,
            snrs=snrs,
            microphone=microphone,
            jobs=jobs,
            progress=bar.update,
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
