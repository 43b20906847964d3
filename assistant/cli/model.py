"""`gloveson model`: speech models: what is here, fetch a standard one, build one, try one."""

from __future__ import annotations

import argparse
import sys
from typing import Any

from assistant.cli.output import ALL_RIGHT, NOT_ALL_RIGHT, answer, answer_json, tell
from assistant.errors import BadInput

_MIB = 1024 * 1024


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser("model", help="speech models", description="Speech models.")
    actions = command.add_subparsers(dest="action", required=True, metavar="ACTION")
    listing = actions.add_parser("list", help="what is here and what can be fetched")
    listing.add_argument("--json", action="store_true")
    listing.set_defaults(run=run_list)
    get = actions.add_parser("get", help="fetch a standard model and verify it")
    get.add_argument("name")
    get.set_defaults(run=run_get)
    build = actions.add_parser("build", help="a model that knows your shop's own words")
    build.add_argument("name", help="of the new model; used as --engine vosk:NAME or pair:NAME")
    build.add_argument("phrases", nargs="*", metavar="FILE", help="your shop's phrase files")
    build.add_argument("--replace", action="store_true", help="build it anew if it is here")
    build.add_argument("--json", action="store_true")
    build.set_defaults(run=run_build)
    test = actions.add_parser("test", help="try a model on the phrasebook")
    test.add_argument("model", help="name or folder")
    test.add_argument("--language", default="en", help="whose phrasebook")
    test.add_argument("--clip", metavar="FILE", help="audio file that it is to hear")
    test.set_defaults(run=run_test)


def run_list(given: argparse.Namespace) -> int:
    """List models."""
    from assistant.hearing.models import list_models  # noqa: PLC0415 - loads the engine's room

    models = list_models()
    if given.json:
        answer_json(
            [
                {
                    "name": m.name,
                    "folder": str(m.folder) if m.folder else None,
                    "standard": m.known is not None,
                }
                for m in models
            ]
        )
        return ALL_RIGHT
    answer("pocketsphinx: US English, comes with the program")
    for model in models:
        where = str(model.folder) if model.folder else f"not here: gloveson model get {model.name}"
        answer(f"vosk:{model.name}: {where}")
    return ALL_RIGHT


def run_get(given: argparse.Namespace) -> int:
    """Fetch a model; progress goes to the person."""
    from assistant.hearing.models import get_model  # noqa: PLC0415 - as above

    shown = False

    def progress(done: int, total: int) -> None:
        nonlocal shown
        if sys.stderr.isatty() or done >= total:
            shown = True
            share = f" of {total / _MIB:.1f}" if total else ""
            sys.stderr.write(f"\r{given.name}: {done / _MIB:.1f}{share} MiB")
            sys.stderr.flush()

    try:
        folder = get_model(given.name, progress)
    finally:
        if shown:
            tell("")  # what comes next begins on a line of its own
    answer(f"{given.name} is in {folder}; use it with --engine vosk:{given.name}")
    return ALL_RIGHT


def run_build(given: argparse.Namespace) -> int:
    """Build a model with the words of phrase files and of the shop's file."""
    from pathlib import Path  # noqa: PLC0415 - as above

    from assistant.acoustics.rebuild import build_model  # noqa: PLC0415 - as above
    from assistant.engines import SHIPPED_MODEL  # noqa: PLC0415 - as above
    from assistant.hearing.models import known_models, models_folder  # noqa: PLC0415 - as above
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above
    from assistant.shop_phrases import PHRASES_FILE  # noqa: PLC0415 - as above

    if given.name == SHIPPED_MODEL or given.name in known_models():
        raise BadInput(f"{given.name} is the name of another model; choose one of your own")
    models, phrases = models_folder(), [Path(each) for each in given.phrases]
    home = jobs_home().parent
    if not phrases and (home / PHRASES_FILE).is_file():
        phrases = [home / PHRASES_FILE]
    folder, own = build_model(given.name, models, phrases, home, replace=given.replace)
    if given.json:
        answer_json(
            {"folder": str(folder), "words": {w: [" ".join(p) for p in own[w]] for w in own}}
        )
        return ALL_RIGHT
    answer(f"{given.name} is in {folder}; all {len(own)} words that you wrote can be heard")
    answer(f"use it with --engine vosk:{given.name} or --engine pair:{given.name}")
    return ALL_RIGHT


def run_test(given: argparse.Namespace) -> int:
    """Try a model: which phrases it could never hear, and what it makes of a clip."""
    from pathlib import Path  # noqa: PLC0415 - as above

    from assistant.engines import whole_grammar  # noqa: PLC0415 - as above
    from assistant.hearing.models import find_model, try_model  # noqa: PLC0415 - as above
    from assistant.hearing.source import read_audio  # noqa: PLC0415 - as above

    clip = read_audio(Path(given.clip)) if given.clip else None
    tried = try_model(find_model(given.model), whole_grammar(given.language), clip)
    answer(f"{tried.folder}: loads in {tried.load_s:.1f} s")
    answer("it has a word for other speech" if tried.rejects else "it has no [unk] word")
    for phrase, words in sorted(tried.unknown.items()):
        answer(f'never heard: "{phrase}" (unknown: {", ".join(words)})')
    if not tried.unknown:
        answer("every word of the phrasebook is known")
    if tried.heard is not None:
        answer(f'clip: "{tried.heard.text}" ({tried.heard.verdict}), {tried.speed:.3f} x real time')
    return NOT_ALL_RIGHT if tried.unknown else ALL_RIGHT
