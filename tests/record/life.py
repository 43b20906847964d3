"""A bay's record from its beginning to its seal, confirming as it goes; run, never imported.

    python life.py FOLDER CONFIRMATIONS

Begins the job or goes on with it. Says each confirmation's number on standard output once the
keeper has it, "alarm" whenever the disk refuses, and "sealed" at the end.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from assistant.errors import JournalUnwritable
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal, now
from assistant.record.keeper import Header, RecordKeeper
from tests.record.making import CHECKLIST, TONE

_T = TypeVar("_T")
_TRIES = 50
_HEADER = Header("1", "en", "bars.yaml", "bars", "1", "0" * 64, {}, "0" * 64, {}, "none")


def _say(text: str) -> None:
    os.write(1, f"{text}\n".encode())


def _insist(work: Callable[[], _T], retry: Callable[[], None]) -> _T:
    """Do it, as the bay does: on a refusal the alarm, then again once the disk is back."""
    for _ in range(_TRIES):
        try:
            retry()
            return work()
        except JournalUnwritable:
            _say("alarm")
            time.sleep(0.001)
    raise SystemExit("the disk never came back")


def main() -> None:
    """Live until sealed."""
    folder, count = Path(sys.argv[1]), int(sys.argv[2])
    fresh = not (folder / JOURNAL).exists()
    make = Journal.create if fresh else Journal.open
    try:
        journal = make(folder)
    except JournalUnwritable:  # told to the user; the same command is given again
        _say("alarm")
        raise SystemExit(3) from None
    keeper = RecordKeeper(journal)

    def confirm(number: int) -> None:
        clip = keeper.keep_clip(TONE)
        data: dict[str, object] = {"number": number}
        if clip is not None:
            data["clip"] = {"file": clip.file, "sha256": clip.sha256, "seconds": clip.seconds}
        keeper.append("confirmed", data, *now())

    if fresh:
        try:
            keeper.begin(_HEADER, CHECKLIST, *now())
        except JournalUnwritable:
            _say("alarm")
            raise SystemExit(3) from None
    # The bay counts nothing on the disk in a job that it has just begun, so neither does this.
    done = 0 if fresh else sum(entry.kind == "confirmed" for entry in journal.entries)
    for number in range(done, count):
        _insist(lambda number=number: confirm(number), keeper.retry)  # type: ignore[misc] # bound now
        _say(str(number))
    if not journal.sealed:
        _insist(lambda: keeper.seal(*now()), keeper.retry)
    _say("sealed")


if __name__ == "__main__":
    main()
