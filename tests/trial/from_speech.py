"""Makes trial manifests from a folder of recorded speech and from the packaged synthetic voices.

    python -m tests.trial.from_speech OUT [--speech FOLDER]

FOLDER holds a manifest.csv with columns file, kind (speech, distractor, noise), transcript,
speaker, note, split; people of the split "test" are taken. Written to OUT, with absolute paths:

    words.txt, human.csv      one-word clips of people: 10 command words, and digits as readings;
                              with unrelated speech and noise
    train.csv                 the same words by the people of the split "train", for tuning
    phrasebook.csv            whole phrases in held-out synthetic voices; the same unrelated sound
    machines/                 links to the noise clips of machines and tools, to be mixed in

Nothing of FOLDER is copied.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path

import audio_fixtures

COLUMNS = ("file", "kind", "transcript", "speaker", "snr_db")
COMMANDS = ("yes", "no", "up", "down", "left", "right", "on", "off", "stop", "go")
DIGITS = ("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")
NO_MACHINE = ("quiet room", "radio", "crowd", "dishes", "tap")
"""Notes of noise clips that are no machine."""

SPEECH = Path(__file__).parents[3] / "shared" / "speech"

Row = tuple[str, str, str, str, str]


def read(folder: Path, name: str = "manifest.csv") -> list[dict[str, str]]:
    """The rows of a folder's manifest."""
    with (folder / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def words(folder: Path, rows: Iterable[Mapping[str, str]], split: str) -> list[Row]:
    """One-word clips of the people of a split; digits as readings."""
    return [
        (
            str(folder / row["file"]),
            "reading" if row["transcript"] in DIGITS else "command",
            row["transcript"],
            row["speaker"],
            "",
        )
        for row in rows
        if row["kind"] == "speech"
        and row["split"] == split
        and row["transcript"] in (*COMMANDS, *DIGITS)
    ]


def unrelated(folder: Path, rows: Iterable[Mapping[str, str]]) -> list[Row]:
    """What nobody says to the assistant, but for clips that hold nothing but one of the words."""
    kinds = {"distractor": "speech", "noise": "noise"}
    return [
        (str(folder / row["file"]), kinds[row["kind"]], row["transcript"], row["speaker"], "")
        for row in rows
        if row["kind"] in kinds and row["transcript"].lower() not in (*COMMANDS, *DIGITS)
    ]


def phrasebook_clips() -> list[Row]:
    """Whole phrases in the held-out voices."""
    folder = Path(next(iter(audio_fixtures.__path__)))
    return [
        (str(folder / row["file"]), row["kind"], row["transcript"], row["speaker"], "")
        for row in read(folder)
        if row["split"] == "held-out" and row["kind"] != "fragment"
    ]


def machines(folder: Path, rows: Iterable[Mapping[str, str]]) -> list[Path]:
    """The noise clips of machines and tools."""
    return [
        folder / row["file"]
        for row in rows
        if row["kind"] == "noise" and not any(word in row["note"] for word in NO_MACHINE)
    ]


def write(file: Path, rows: Sequence[Row]) -> None:
    """A manifest as `gloveson trial` reads it."""
    with file.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(COLUMNS)
        writer.writerows(rows)


def make(speech: Path, out: Path) -> None:
    """Write all that is listed above."""
    out.mkdir(parents=True, exist_ok=True)
    rows = read(speech)
    (out / "words.txt").write_text("\n".join((*COMMANDS, *DIGITS)) + "\n", encoding="utf-8")
    others = unrelated(speech, rows)
    write(out / "human.csv", words(speech, rows, "test") + others)
    write(out / "train.csv", words(speech, rows, "train"))
    write(out / "phrasebook.csv", phrasebook_clips() + others)
    links = out / "machines"
    links.mkdir(exist_ok=True)
    for clip in machines(speech, rows):
        link = links / clip.name
        link.unlink(missing_ok=True)
        link.symlink_to(clip)


def main() -> None:
    """Read the command line."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--speech", type=Path, default=SPEECH)
    given = parser.parse_args()
    make(given.speech.resolve(), given.out)


if __name__ == "__main__":
    main()
