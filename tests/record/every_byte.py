"""Every byte of a small signed record changed in turn: `python -m tests.record.every_byte`.

Prints, for each file, how many bytes and changes there were, how many the audit caught, and in how
many of them its message names the entry or the file that was changed.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from assistant.record.audit import audit
from assistant.record.folder import JOURNAL
from assistant.record.journal import Journal
from assistant.record.seal import seal
from assistant.record.signing import ShopKey
from tests.record.making import WALL, open_record, overwrite


@dataclass
class Counts:
    """One row: a file, what was changed in it, and what came of that."""

    file: str
    size: int
    changes: int = 0
    caught: int = 0
    named: int = 0


def signed_record(place: Path) -> Path:
    """A job with checklist copies, a clip and a signed seal."""
    folder = open_record(place / "jobs")
    with Journal.open(folder) as journal:
        seal(journal, WALL, 4.0, ShopKey.create(place))
    return folder


def substitutes(byte: int) -> Iterator[int]:
    """A bit at either end, all bits, a line's end, a blank, a zero, the next digit or letter."""
    others = {byte ^ 1, byte ^ 0x80, byte ^ 0xFF, 0x0A, 0x20, 0, (byte + 1) % 256, byte ^ 0x20}
    yield from sorted(others - {byte})


def change_every_byte(folder: Path, every: int = 1) -> list[Counts]:
    """Change every so-manieth byte of every file; the record is as before in the end."""
    rows = []
    for path in sorted(path for path in folder.rglob("*") if path.is_file()):
        whole = path.read_bytes()
        counts = Counts(path.relative_to(folder).as_posix(), len(whole))
        for at in range(0, len(whole), every):
            for byte in substitutes(whole[at]):
                overwrite(path, whole[:at] + bytes([byte]) + whole[at + 1 :])
                found = audit(folder)
                counts.changes += 1
                counts.caught += not found.ok
                if counts.file == JOURNAL:
                    counts.named += found.first_bad == whole[:at].count(b"\n")
                else:
                    counts.named += counts.file in str(found.problem)
        overwrite(path, whole)
        rows.append(counts)
    return rows


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory(prefix="gloves-on-bytes-") as name:
        folder = signed_record(Path(name))
        sys.stdout.write(f"{'file':32}{'bytes':>7}{'changes':>9}{'caught':>9}{'named':>9}\n")
        for row in change_every_byte(folder):
            sys.stdout.write(
                f"{row.file:32}{row.size:7}{row.changes:9}{row.caught:9}{row.named:9}\n"
            )
        if not audit(folder).ok:
            raise SystemExit("the record is not as it was")


if __name__ == "__main__":
    main()
