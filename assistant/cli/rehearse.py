"""`gloveson rehearse`: a whole job with no microphone."""

from __future__ import annotations

import argparse
import tempfile
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from assistant import shelf
from assistant.checklist.expand import read_option
from assistant.cli.live_options import ENGINE, ENGINES
from assistant.cli.output import (
    ALL_RIGHT,
    NOT_ALL_RIGHT,
    add_options,
    answer,
    answer_json,
    tell,
)
from assistant.errors import BadInput

if TYPE_CHECKING:
    from assistant.rehearsal.script import Script

DEMO: Final = "raised-handlebar"
_NOISES: Final = ("pink", "white", "brown", "engine")


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "rehearse",
        help="play a whole job with no microphone",
        description="Plays a whole job: spoken lines are audio and go through the same hearing "
        "path as a live microphone; a complete record comes out.",
    )
    command.add_argument("checklist", nargs="?", default=DEMO, help="file or id; the demo job")
    command.add_argument("--engine", default=ENGINE, help=ENGINES)
    command.add_argument(
        "--no-enrollment", action="store_true", help="hear as if nobody's voice were enrolled"
    )
    command.add_argument("--noise", choices=_NOISES, help="noise in the shop")
    command.add_argument("--snr", type=float, metavar="DB", help="speech above the noise")
    command.add_argument("--script", type=Path, metavar="FILE", help="what the people say")
    command.add_argument("--out", type=Path, metavar="DIR", help="where the record goes")
    command.add_argument("--kit", action="store_true", help="check the kit first")
    command.add_argument("--no-clips", action="store_true", help="keep no sound of replies")
    command.add_argument("--realtime", action="store_true", help="as a person would hear it")
    command.add_argument("--json", action="store_true", help="the result as JSON on stdout")
    command.add_argument("--quiet", action="store_true", help="do not print the dialogue")
    add_options(command)
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Play the job and print what became of it."""
    # Imported here: the audio libraries take a second to load, and only this needs them.
    from assistant.rehearsal.setup import Stage, play_on  # noqa: PLC0415

    if (given.noise is None) != (given.snr is None):
        msg = "--noise and --snr go together: --noise pink --snr 15"
        raise BadInput(msg)
    if given.snr is not None and not -20 <= given.snr <= 60:  # also no number at all (nan)
        msg = f"--snr {given.snr} is not possible: -20 to 60 dB are"
        raise BadInput(msg)
    loaded = shelf.load_checklist(shelf.find_checklist(given.checklist))
    script = _script(given.script, loaded.checklist.checklist)
    chosen = {**script.options, **dict(read_option(loaded, pair) for pair in given.option)}
    out = given.out or Path(tempfile.mkdtemp(prefix="gloveson-rehearsal-"))
    stage = Stage(
        checklist=loaded,
        script=script,
        options=chosen,
        engine=given.engine,
        noise=given.noise,
        snr_db=given.snr,
        realtime=given.realtime,
        out=out,
        show=(lambda _text: None) if given.quiet else tell,
        kit=given.kit,
        clips=not given.no_clips,
        enrollment=not given.no_enrollment,
    )
    result = play_on(stage)
    if given.json:
        answer_json(result)
    else:
        _print(result)
    good = result["status"] == "released" and result["commands"]["wrong"] == 0
    return ALL_RIGHT if good and result["audit"]["ok"] else NOT_ALL_RIGHT


def _script(path: Path | None, checklist: str) -> Script:
    from assistant.rehearsal.script import load_script  # noqa: PLC0415 - as above

    if path is not None:
        return load_script(shelf.read_text(path), str(path))
    folder = files("assistant") / "rehearsal" / "data" / "en"
    own = folder / f"{checklist}.yaml"
    found = own if own.is_file() else folder / f"{DEMO}.yaml"
    script = load_script(found.read_text(encoding="utf-8"), found.name)
    # Another checklist is played by the demo's people, who then only do what they are asked.
    return script if own.is_file() else script.without_moments(checklist)


def _print(result: dict[str, Any]) -> None:
    steps, stops, said = result["steps"], result["safety_stops"], result["commands"]
    still = result["open"]
    answer(f"job {result['job']}: {result['status']}")
    answer(
        f"steps: {steps['confirmed']} of {steps['total']} confirmed, {steps['left_out']} left out"
    )
    answer(f"safety stops: {stops['met']} met, {stops['passed']} passed")
    answer(
        f"commands: {said['spoken']} spoken, {said['understood']} understood, "
        f"{said['asked_again']} asked again, {said['wrong']} wrong, {said['by_keys']} by keys"
    )
    answer(
        f"open: off {still['off']}, hazards {still['hazards']}, troubles {still['troubles']}, "
        f"readings {still['readings']}"
    )
    latency = result["latency_ms"]
    answer(f"end of speech to decision: median {latency['median']} ms, 95% {latency['p95']} ms")
    audit = result["audit"]
    answer(f"audit: {'ok' if audit['ok'] else audit['problem']}, {audit['entries']} entries")
    answer(f"record: {result['record']}")
    answer(f"heard: {result['heard']}")
