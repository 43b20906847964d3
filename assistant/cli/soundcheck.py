"""`gloveson soundcheck`: whether voice will work in this place."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant.cli.live_options import ENGINE, ENGINES
from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json, tell

if TYPE_CHECKING:
    from assistant.language.book import Phrasebook
    from assistant.soundcheck import Measured
    from assistant.words import Words


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "soundcheck",
        help="whether voice will work in this place",
        description="Measures the room and the microphone, tries a few phrases, and says what to "
        "change. Exit code 1 when this place won't work for voice.",
    )
    command.add_argument("--from", dest="file", type=Path, metavar="FILE", help="a recording of it")
    command.add_argument("--engine", default=ENGINE, help=ENGINES)
    command.add_argument("--microphone", metavar="NAME", help="part of the device's name")
    command.add_argument("--language", default="en", help="of the phrases (en)")
    command.add_argument("--json", action="store_true", help="the figures as JSON on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Measure, print the figures and the advice."""
    from assistant.engines import open_engine  # noqa: PLC0415 - loads the audio libraries
    from assistant.opening import words_of  # noqa: PLC0415 - as above
    from assistant.soundcheck import works  # noqa: PLC0415 - as above

    words = words_of(given.language)
    engine = open_engine(given.engine)
    measured = _measured(given, engine, words)
    if given.json:
        answer_json(_as_json(measured, words, engine.name))
    else:
        _print(measured, words)
    return ALL_RIGHT if works(measured) else NOT_ALL_RIGHT


def _measured(given: argparse.Namespace, engine: Any, words: Words) -> Measured:  # noqa: ANN401
    from assistant.hearing.microphone import Microphone  # noqa: PLC0415 - loads PortAudio
    from assistant.job.effects import line  # noqa: PLC0415 - as above
    from assistant.soundcheck import listen_to_file, listen_to_person  # noqa: PLC0415 - as above

    book: Phrasebook = words.book
    if given.file is not None:
        return listen_to_file(given.file, engine, book)

    def ask(phrase: str) -> None:
        if phrase:
            tell(f"{words.shown(line('soundcheck.say'))} {phrase}")
        else:
            tell(words.shown(line("soundcheck.silence")))

    microphone = Microphone(given.microphone)
    try:
        return listen_to_person(microphone, engine, book, ask)
    finally:
        microphone.close()


def _as_json(measured: Measured, words: Words, engine: str) -> dict[str, Any]:
    from assistant.soundcheck import advise, figure, works  # noqa: PLC0415 - as above

    return {
        "works": works(measured),
        "figure": figure(measured),
        "snr_db": _rounded(measured.snr_db),
        "noise_dbfs": _rounded(measured.noise_dbfs),
        "loudest_dbfs": _rounded(measured.loudest_dbfs),
        "speech_dbfs": _rounded(measured.speech_dbfs),
        "seconds": measured.seconds,
        "clipped": measured.clipped,
        "dropouts": measured.dropouts,
        "dead": measured.dead,
        "tried": len(measured.tried),
        "understood": measured.understood,
        "phrases": [
            {
                "wanted": one.wanted,
                "heard": one.heard,
                "understood": one.understood,
                "level_dbfs": _rounded(one.level_dbfs),
            }
            for one in measured.tried
        ],
        "advice": [
            {"code": said.key.removeprefix("soundcheck."), "text": words.shown(said)}
            for said in advise(measured)
        ],
        "engine": engine,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 1)


def _print(measured: Measured, words: Words) -> None:
    from assistant.soundcheck import advise, figure  # noqa: PLC0415 - as above

    def shown(value: float | None, unit: str) -> str:
        return "not measured" if value is None else f"{value:.0f} {unit}"

    answer(f"noise: {shown(measured.noise_dbfs, 'dBFS')}")
    answer(f"loudest second of it: {shown(measured.loudest_dbfs, 'dBFS')}")
    answer(f"speech: {shown(measured.speech_dbfs, 'dBFS')}")
    answer(f"overdriven: {measured.clipped} of {len(measured.tried)}")
    answer(f"dropouts: {measured.dropouts}")
    answer(f"phrases: {measured.understood} of {len(measured.tried)} understood")
    answer(f"speech over noise: {shown(measured.snr_db, 'dB')} ({figure(measured)})")
    for said in advise(measured):
        answer(words.shown(said))
