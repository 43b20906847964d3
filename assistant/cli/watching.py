"""Checklists checked anew each time they, or the shared sections they include, are saved."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

from assistant.cli.output import ALL_RIGHT, flush, tell
from assistant.errors import BadInput

_PAUSE_S = 0.5

Stamps = Mapping[Path, tuple[int, int] | None]


def pause() -> None:
    """Until the files are looked at again."""
    time.sleep(_PAUSE_S)


def watch(
    check: Callable[[], int], files: Callable[[], Iterable[Path]], pause: Callable[[], None] = pause
) -> int:
    """Check now and after every change, until Ctrl-C.

    Args:
        check: checks and prints; returns an exit code.
        files: what to look at; asked anew before each check, since includes change too.
        pause: returns when the files may have changed; Ctrl-C may come out of it.

    Returns:
        The exit code of the last check.
    """
    code = ALL_RIGHT
    try:
        while True:
            seen = stamps(files())  # before the check: what changes meanwhile is checked again
            code = check()
            flush()
            tell("watching; Ctrl-C ends it")
            _until_changed(seen, pause)
    except KeyboardInterrupt:
        return code


def _until_changed(seen: Stamps, pause: Callable[[], None]) -> None:
    """Until a file differs, and then until it has stopped changing: editors save in two steps."""
    while (now := stamps(seen)) == seen:
        pause()
    while True:
        pause()
        settled = stamps(seen)
        if settled == now:
            return
        now = settled


def stamps(files: Iterable[Path]) -> Stamps:
    """Time (nanoseconds) and size (bytes) of each file; None for one that is not there."""
    found: dict[Path, tuple[int, int] | None] = {}
    for file in files:
        try:
            status = file.stat()
        except OSError:
            found[file] = None
        else:
            found[file] = (status.st_mtime_ns, status.st_size)
    return found


def files_of(names: Iterable[str]) -> list[Path]:
    """The files of these checklists: each with what it includes, as far as it can be read."""
    from assistant import shelf  # noqa: PLC0415 - loads the checklist reader
    from assistant.checklist.loader import included  # noqa: PLC0415 - as above

    found: dict[Path, None] = {}
    for name in names:
        path = shelf.find_checklist(name)
        found[path] = None
        try:
            parts = included(shelf.read_text(path), path.as_posix())
        except BadInput:
            continue  # the check says why
        found.update(dict.fromkeys(path.parent / part for part in parts))
    return list(found)
