"""Checklists on disk: where they lie, and reading them within limits."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from assistant.checklist.loader import Loaded, included, load
from assistant.checklist.scalars import shown
from assistant.errors import BadFile, BadInput
from assistant.small_files import given_name, read_small, refusal

MAX_BYTES: Final = 1024 * 1024
_PACKAGE: Final = Path(__file__).parent


def checklists_folder() -> Path:
    """The checklists that came with the program.

    In a working copy they lie beside the package, in an installation inside it.

    Raises:
        BadInput: neither is there; the installation is not whole.
    """
    for folder in (_PACKAGE.parent / "checklists", _PACKAGE / "bundled" / "checklists"):
        if (folder / "shared").is_dir():
            return folder
    raise BadInput(f"no checklists beside or inside {_PACKAGE}; install Gloves On again")


def find_checklist(name: str) -> Path:
    """The file of a checklist named by its path, or by its id among those that came along.

    Raises:
        BadInput: there is no such file; the message lists the ids.
    """
    path = Path(name)
    if _is_file(path) or path.suffix or len(path.parts) != 1:
        return path
    folder = checklists_folder()
    ids = sorted(file.stem for file in folder.glob("*.yaml"))
    if name in ids:
        return folder / f"{name}.yaml"
    raise BadInput(f'no checklist "{shown(name)}"; here are: {", ".join(ids)}')


def load_checklist(path: str | Path) -> Loaded:
    """Read a checklist and the shared sections that it includes.

    Raises:
        BadFile: it, or a file that it includes, can't be read or has findings.
    """
    main = Path(path)
    given = given_name(main)
    text = _read(main, given)
    files, unreadable = {given: text}, {}
    for name in included(text, given):
        part, shown_part = main.parent / name, given_name(main.parent / name)
        if not part.exists():
            continue  # the loader says so, with the line of the include
        try:
            _refuse_outside(part, main.parent, shown_part)
            files[shown_part] = _read(part, shown_part)
        except BadFile as error:
            unreadable[shown_part] = error.findings[0]
    return load(files, given, unreadable)


def read_text(path: Path) -> str:
    """The text of a small file that a person wrote.

    Raises:
        BadFile: it can't be read, is no file, is too big, or is not UTF-8.
    """
    return _read(path, given_name(path))


def _is_file(path: Path) -> bool:
    try:
        return path.is_file()
    except OSError:  # a name too long for any file
        return False


def _refuse_outside(part: Path, folder: Path, given: str) -> None:
    """A link inside the folder must not make the program read a file elsewhere."""
    if not part.resolve().is_relative_to(folder.resolve()):
        raise refusal("outside", given, "is a link out of the folder of checklists; copy the file")


def _read(path: Path, given: str) -> str:
    return read_small(path, MAX_BYTES, "a checklist", given)
