"""`gloveson new`: a commented starting point of a checklist."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any, Final

from assistant.cli.output import ALL_RIGHT, answer, tell
from assistant.errors import BadInput

_LANGUAGE: Final = "en"


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "new",
        help="begin a checklist",
        description="Writes a commented starting point of a checklist. It passes `check` as it "
        "is; change it step by step. A file that is there is never overwritten.",
    )
    command.add_argument("name", metavar="NAME", help="its short name, or a path: front-pads")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Write the file."""
    from assistant import packaged  # noqa: PLC0415 - keeps `--help` fast
    from assistant.checklist.fields import is_identifier  # noqa: PLC0415 - as above

    path = Path(given.name)
    if path.suffix != ".yaml":
        path = path.parent / f"{path.name}.yaml"
    if not is_identifier(path.stem):
        raise BadInput(
            f'"{path.stem}" can\'t be the name of a checklist; write it like front-brake-pads '
            "(small letters, digits, hyphens)"
        )
    text = packaged.new_checklist(_LANGUAGE)
    text = text.replace("<id>", path.stem, 1).replace("<title>", _title(path.stem), 1)
    text = f"# yaml-language-server: $schema={_schema(path.parent)}\n{text}"
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            file.write(text)
    except FileExistsError:
        raise BadInput(f"{path} is there already; choose another name") from None
    except OSError as problem:
        raise BadInput(f"{path} can't be written: {problem.strerror}") from problem
    answer(str(path))
    tell(f"next: change it, then gloveson check --watch {path}")
    return ALL_RIGHT


def _schema(folder: Path) -> str:
    """The JSON Schema as an editor finds it: beside the file, or where the program keeps it."""
    from assistant import shelf  # noqa: PLC0415 - as above

    beside = folder / "checklist.schema.json"
    if beside.is_file():
        return beside.name
    return (shelf.checklists_folder() / beside.name).absolute().as_posix()


def _title(name: str) -> str:
    """A title made of the name, where the voice can say that and it confirms nothing."""
    from assistant.opening import words_of  # noqa: PLC0415 - as above

    words = words_of(_LANGUAGE)
    title = name.replace("-", " ").capitalize()
    sayable = any(sign.isalpha() for sign in title) and words.can_be_said(title)
    return f'"{title}"' if sayable and not words.confirms(title) else "New checklist"
