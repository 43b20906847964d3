"""Small files that a person wrote: looked at before they are read, and read within limits."""

from __future__ import annotations

import os
import stat
from pathlib import Path

from assistant.checklist.scalars import shown
from assistant.errors import BadFile, Finding


def given_name(path: Path) -> str:
    """The path as the person gave it, without anything that a terminal would obey."""
    return shown(path.as_posix(), 4096)


def refusal(code: str, given: str, message: str, line: int = 0) -> BadFile:
    """One error about a file as a whole."""
    return BadFile((Finding("error", code, given, line, message),))


def is_there(path: Path) -> bool:
    """Whether anything lies there, were it a link to nowhere: that is no missing file."""
    return os.path.lexists(path)


def read_small(path: Path, most: int, what: str, given: str | None = None) -> str:
    """All of a small regular file, as UTF-8.

    Args:
        path: of the file. A device would never end and a pipe never begin, so neither is opened.
        most: bytes that it may have; its size is looked at before it is read.
        what: what such a file is, as in "a checklist".
        given: how the file is called in messages; its path if left out.

    Raises:
        BadFile: it can't be read, is no file, is too big, or is not UTF-8.
    """
    name = given_name(path) if given is None else given
    try:
        status = path.stat()
        if not stat.S_ISREG(status.st_mode):
            message = f"is not a file; {what} is one"
            raise refusal("not-a-file", name, message)
        if status.st_size > most:
            raise _too_big(name, status.st_size, most, what)
        with path.open("rb") as file:
            data = file.read(most + 1)
    except OSError as error:
        reason = os.strerror(error.errno) if error.errno else str(error)
        raise refusal("unreadable", name, f"can't be read: {reason.lower()}") from error
    if len(data) > most:  # it grew since
        raise _too_big(name, len(data), most, what)
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        message = f"byte {error.start} is not UTF-8; save the file as UTF-8"
        raise refusal("not-utf-8", name, message, line) from error


def _too_big(name: str, size: int, most: int, what: str) -> BadFile:
    message = f"is {size:,} bytes long, more than the {most:,} that {what} may have"
    return refusal("too-big", name, message)
