"""A process that writes entries until it is killed; run by test_kill.py, never imported.

    python appender.py FOLDER

For every line on standard input it starts a child, which opens the job and appends entries as
fast as it can. The child says "pid N" on standard output, then each number once the journal has
it; its parent says "end" when the child is gone.
"""

from __future__ import annotations

import os
import random
import sys
from pathlib import Path

from assistant.record.clips import save_clip
from assistant.record.durable import Disk
from assistant.record.journal import Journal, now

_LONG = 60_000


class _SlowDisk(Disk):
    """Takes few bytes at a time, so that kills also land in the middle of a line."""

    def write(self, fd: int, data: bytes) -> None:
        for start in range(0, len(data), 16):
            super().write(fd, data[start : start + 16])


def _say(text: str) -> None:
    os.write(1, f"{text}\n".encode())


def _append_until_killed(folder: Path) -> None:
    chance = random.Random()  # noqa: S311 - sizes, not secrets
    with Journal.open(folder, disk=chance.choice((Disk(), _SlowDisk(), _SlowDisk()))) as journal:
        acknowledged = sum(entry.kind == "event" for entry in journal.entries)
        while True:
            data: dict[str, object] = {"number": acknowledged}
            size = _LONG if chance.random() < 0.6 else 30
            data["text"] = "x" * size
            if chance.random() < 0.1:
                data["clip"] = save_clip(folder, b"\x01\x00" * 1000).data()
            journal.append("event", data, *now())
            _say(str(acknowledged))
            acknowledged += 1


def main() -> None:
    """Serve until standard input ends."""
    folder = Path(sys.argv[1])
    for _ in sys.stdin:
        child = os.fork()
        if child == 0:
            try:
                _say(f"pid {os.getpid()}")
                _append_until_killed(folder)
            finally:  # whatever happens, a child never goes on as its parent
                os._exit(1)
        os.waitpid(child, 0)
        _say("end")


if __name__ == "__main__":
    main()
