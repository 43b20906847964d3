"""What was heard again so far: a JSON-lines file that only grows, so that a run can go on.

The first line says what the file is; every other holds one clip's outcome. A line that was cut
off by a crash is dropped when the file is opened again; anything else that does not belong there
is refused, and the file is left as it is.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from filelock import FileLock, Timeout

from assistant.errors import BadInput, JournalUnwritable
from assistant.record.durable import Disk

HEAD: Final = {"what": "gloveson rehearing", "version": 1}
_FIELDS: Final = {"job", "n", "entry", "clip", "engine", "model", "program", "then", "now"}
_MADE: Final = {"text", "intent", "slots", "verdict"}
Key = tuple[str, str, str, str]


@dataclass(frozen=True, slots=True)
class With:
    """What clips are heard with; a result counts only for the same."""

    engine: str
    model: str
    program: str

    def key(self, entry: str) -> Key:
        """Names a clip's result."""
        return entry, self.engine, self.model, self.program


class Ledger:
    """One results file, held by one process.

    Args:
        path: the file; it is begun where it isn't there.

    Raises:
        BadInput: another process has it, or it is something else.
        JournalUnwritable: the system refuses.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._disk = Disk()
        self._at: dict[Key, int] = {}
        if path.is_dir():
            raise BadInput(f"{path} is a folder; a file is wanted")
        self._lock = FileLock(path.parent / f"{path.name}.lock", timeout=0)
        self._fd: int | None = None
        try:
            self._lock.acquire()
            self._open()
        except Timeout as error:
            raise BadInput(f"{path} is in use by another run; wait for it, or name another") from (
                error
            )
        except OSError as error:
            self.close()
            raise JournalUnwritable(f"{path} can't be written: {error}") from error
        except BaseException:
            self.close()
            raise

    def __enter__(self) -> Ledger:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let go of the file."""
        if self._fd is not None:
            os.close(self._fd)
            self._fd = None
        self._lock.release()

    def get(self, key: Key) -> dict[str, Any] | None:
        """A clip's result, None when it was not heard again yet."""
        start = self._at.get(key)
        if start is None:
            return None
        with self._path.open("rb") as file:
            file.seek(start)
            found: dict[str, Any] = json.loads(file.readline())
        return found

    def add(self, results: Iterable[dict[str, Any]]) -> None:
        """Append results; they are on the disk when this returns.

        Raises:
            JournalUnwritable: the system refuses.
        """
        assert self._fd is not None  # noqa: S101 - from opening to closing
        lines = b""
        start = os.fstat(self._fd).st_size
        for one in results:
            self._at[key_of(one)] = start + len(lines)
            lines += _line(one)
        try:
            self._disk.write(self._fd, lines)
            self._disk.sync(self._fd)
        except OSError as error:
            raise JournalUnwritable(f"{self._path} can't be written: {error}") from error

    def _open(self) -> None:
        head = _line(HEAD)
        try:
            self._fd = self._disk.open_new(self._path)
        except FileExistsError:
            keep = self._read(head)
            self._fd = self._disk.open_append(self._path)
            self._disk.truncate(self._fd, keep)
        if os.fstat(self._fd).st_size == 0:
            self._disk.write(self._fd, head)
        self._disk.sync(self._fd)
        self._disk.sync_folder(self._path.parent)

    def _read(self, head: bytes) -> int:
        """Find every result; returns how many bytes to keep: all but a torn last line."""
        with self._path.open("rb") as file:
            first = file.readline(len(head))
            if first != head:
                if head.startswith(first):
                    return 0  # begun, and cut off at once
                raise BadInput(f"{self._path} is there already and is no file of this command")
            start = len(head)
            for number, line in enumerate(file, 2):
                if not line.endswith(b"\n"):
                    break
                self._at[self._key(line, number)] = start
                start += len(line)
        return start

    def _key(self, line: bytes, number: int) -> Key:
        try:
            found = json.loads(line)
            whole = found.keys() == _FIELDS and all(
                found[made].keys() >= _MADE for made in ("then", "now")
            )
        except (ValueError, AttributeError, TypeError, RecursionError):
            whole = False
        if not whole:
            msg = f"{self._path}:{number}: not a result of this command; remove the line"
            raise BadInput(msg)
        return key_of(found)


def key_of(result: dict[str, Any]) -> Key:
    """Names a result by its clip's entry and what it was heard with."""
    entry, engine, model, program = (
        str(result[name]) for name in ("entry", "engine", "model", "program")
    )
    return entry, engine, model, program


def _line(value: dict[str, Any]) -> bytes:
    return json.dumps(value, ensure_ascii=True, sort_keys=True).encode() + b"\n"
