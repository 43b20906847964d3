"""`gloveson enroll`: takes of how a person says each phrase, kept for that person."""

from __future__ import annotations

import argparse
import csv
from pathlib import Path
from typing import TYPE_CHECKING, Any

from assistant import packaged, people
from assistant.cli.live_options import ENGINE, ENGINES
from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json, tell
from assistant.errors import AudioUnavailable, BadInput

if TYPE_CHECKING:
    from assistant.hearing.enrollment.folder import VoiceFolder
    from assistant.language.book import Phrasebook


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "enroll",
        help="keep takes of how a person says the phrases",
        description="Asks for each phrase twice and records it, where the work is done and with "
        "its microphone; Ctrl-C stops, and the next time it goes on from there. Or takes recorded "
        "before become NAME's voice: the manifest has the columns file and transcript. They help "
        "to tell NAME's phrases apart, and are never used to tell who somebody is. Exit code 1 "
        "when a take can't be used or some are still missing.",
    )
    command.add_argument("name", metavar="NAME", help="a name or an id of the roster")
    what = command.add_mutually_exclusive_group()
    what.add_argument("--from", dest="source", type=Path, metavar="MANIFEST.csv", help="the takes")
    what.add_argument("--list", action="store_true", help="what is enrolled")
    what.add_argument("--remove", action="store_true", help="remove all takes of this person")
    command.add_argument("--engine", default=ENGINE, help=ENGINES)
    command.add_argument("--microphone", metavar="NAME", help="part of the device's name")
    command.add_argument("--loudspeaker", metavar="NAME", help="part of the device's name")
    command.add_argument("--silent", action="store_true", help="only show the phrases to be said")
    command.add_argument("--language", default="en", help="of the phrases (en)")
    command.add_argument("--json", action="store_true", help="the result as JSON on stdout")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Enroll, list or remove."""
    from assistant.hearing.enrollment.folder import VoiceFolder  # noqa: PLC0415 - loads audio

    folder = VoiceFolder(_person(given.name), unread=given.remove)
    book = packaged.phrasebook(given.language)
    if given.remove:
        removed = folder.remove()
        return _answer(given, folder, book, f"removed: {'yes' if removed else 'nothing was there'}")
    if given.list:
        return _answer(given, folder, book)
    if given.source is None:
        done = _by_microphone(given, folder, book)
        return _answer(given, folder, book) if done else NOT_ALL_RIGHT
    refused = _from_manifest(given.source, folder, book)
    for problem in refused:
        tell(f"not used: {problem}")
    code = _answer(given, folder, book, refused=refused)
    return NOT_ALL_RIGHT if refused else code


def _by_microphone(given: argparse.Namespace, folder: VoiceFolder, book: Phrasebook) -> bool:
    """Ask and record; whether nothing is missing any more."""
    from assistant.cli.asking import asker  # noqa: PLC0415 - loads the audio libraries
    from assistant.engines import open_engine  # noqa: PLC0415 - as above
    from assistant.hearing.microphone import Microphone  # noqa: PLC0415 - as above
    from assistant.soundcheck.run import grammar_of  # noqa: PLC0415 - as above
    from assistant.soundcheck.takes import phrases_to_enroll, record_takes  # noqa: PLC0415

    engine = open_engine(given.engine)
    microphone, done = Microphone(given.microphone), False
    try:
        with asker(given.loudspeaker, folder, silent=given.silent) as ask:
            phrases = phrases_to_enroll(book)
            done = record_takes(microphone, engine, grammar_of(book), phrases, folder, ask)
    except KeyboardInterrupt:
        tell("")
    finally:
        microphone.close()
    if not done:
        tell(f"{len(folder.clips)} takes are kept. Go on with: gloveson enroll {folder.person}")
    return done


def _person(name: str) -> str:
    """The id of somebody of the shop's roster, by id or by name; else the name's own."""
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above

    roster = people.load_shop(jobs_home().parent).roster
    by_name = {shown.lower(): person for person, shown in roster.items()}
    return by_name.get(name.strip().lower()) or people.person_id(name)


def _from_manifest(source: Path, folder: VoiceFolder, book: Phrasebook) -> list[str]:
    """Enroll the takes of a manifest; the ones that can't be used, with why.

    Raises:
        BadInput: the manifest can't be read, or a line of it is wrong; nothing is enrolled then.
    """
    from assistant.hearing.enrollment.quality import fault_of  # noqa: PLC0415 - loads audio
    from assistant.hearing.source import read_audio  # noqa: PLC0415 - as above

    takes = [_take(where, row, source.parent, book) for where, row in _rows(source)]
    refused = []
    for where, file, phrase in takes:
        try:
            pcm = read_audio(file)
        except AudioUnavailable as problem:
            raise BadInput(f"{where}: {problem}") from problem
        fault = fault_of(pcm)
        if fault:
            refused.append(f'{where}: "{phrase}": {fault}')
        else:
            folder.add(phrase, pcm)
    return refused


def _rows(source: Path) -> list[tuple[str, dict[str, str]]]:
    try:
        with source.open(encoding="utf-8", newline="") as file:
            reader = csv.DictReader(file)
            missing = {"file", "transcript"} - set(reader.fieldnames or ())
            if missing:
                msg = f"{source}:1: no column {', '.join(sorted(missing))}; file and transcript"
                raise BadInput(f"{msg} are wanted")
            rows = [(f"{source}:{reader.line_num}", row) for row in reader]
    except (OSError, UnicodeDecodeError, csv.Error) as problem:
        raise BadInput(f"{source}: can't be read as a manifest: {problem}") from problem
    if not rows:
        raise BadInput(f"{source}: holds no take")
    return rows


def _take(where: str, row: dict[str, str], base: Path, book: Phrasebook) -> tuple[str, Path, str]:
    phrase = " ".join((row["transcript"] or "").lower().split())
    if phrase not in _enrollable(book):
        msg = f'{where}: "{phrase}" is no phrase that can be enrolled: a whole phrase of the'
        raise BadInput(f"{msg} phrasebook without a number, a name or a read-back is wanted")
    return where, base / (row["file"] or ""), phrase


def _enrollable(book: Phrasebook) -> dict[str, tuple[str, ...]]:
    """Fixed phrases whose takes may count, each with the other wordings of the same intent."""
    from assistant.hearing.enrollment.evidence import ENGINES_OWN  # noqa: PLC0415 - as above

    found = {}
    for entry in book.intents.values():
        fixed = tuple(text for text in entry.phrases if "<" not in text)
        if entry.cost not in ENGINES_OWN:
            found.update({text: tuple(t for t in fixed if t != text) for text in fixed})
    return found


def _answer(
    given: argparse.Namespace,
    folder: VoiceFolder,
    book: Phrasebook,
    first: str = "",
    refused: list[str] | None = None,
) -> int:
    from assistant.hearing.enrollment.evidence import enrolled, too_alike  # noqa: PLC0415

    takes = folder.takes()
    wordings = _enrollable(book)
    alike = [
        {"phrases": list(pair), "instead": sorted({w for p in pair for w in wordings.get(p, ())})}
        for pair in too_alike(takes, enrolled(takes))
    ]
    counts = {phrase: len(each) for phrase, each in takes.items()}
    if given.json:
        shown = {"person": folder.person, "phrases": counts, "too_alike": alike}
        answer_json({**shown, "refused": refused or []})
        return ALL_RIGHT
    if first:
        answer(first)
    answer(f"{folder.person}: {len(counts)} phrases, {sum(counts.values())} takes")
    for phrase, count in counts.items():
        answer(f"  {phrase}: {count}")
    for pair in alike:
        answer(f"too alike: {' / '.join(pair['phrases'])}")
        if pair["instead"]:
            answer(f"  say instead: {', '.join(pair['instead'])}")
    return ALL_RIGHT
