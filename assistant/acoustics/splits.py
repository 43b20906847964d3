"""Which recordings train, which tune and which only test: by speaker, by word and by noise.

A split is decided by a hash of a name, so it stays the same when recordings are added. A speaker
is in one split only. `HELD_WORDS` are never trained on although people say them in the training
recordings: how well they are recognized tells whether phones were learned or words.
"""

from __future__ import annotations

import csv
import hashlib
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from assistant.errors import BadInput

Split = Literal["train", "tuning", "held words", "test"]

HELD_WORDS: Final = frozenset(
    [
        "backward",
        "bed",
        "bird",
        "cat",
        "dog",
        "follow",
        "forward",
        "happy",
        "house",
        "learn",
        "marvin",
        "sheila",
        "tree",
        "visual",
        "wow",
    ]
)

UNHEARD_WORDS: Final = frozenset(
    [
        "activated",
        "added",
        "alpha",
        "bravo",
        "cancelled",
        "charlie",
        "delta",
        "disabled",
        "echo",
        "enabled",
        "foxtrot",
        "golf",
        "goodbye",
        "hello",
        "hotel",
        "hours",
        "india",
        "invalid",
        "juliet",
        "kilo",
        "lima",
        "location",
        "mike",
        "minute",
        "minutes",
        "niner",
        "november",
        "number",
        "oscar",
        "papa",
        "quebec",
        "removed",
        "romeo",
        "second",
        "seconds",
        "sierra",
        "sorry",
        "tango",
        "transfer",
        "uniform",
        "victor",
        "whiskey",
        "x-ray",
        "yankee",
        "zulu",
    ]
)
"""Words of the test that no person may say in training; a sentence that holds one is left out."""

_SHARE_ALIKE: Final = frozenset({"lc"})
"""Noise under a share-alike license: tested on only."""

_LETTERS = re.compile(r"[^a-z' ]+")


@dataclass(frozen=True, slots=True)
class Recording:
    """One clip of a person.

    Attributes:
        path: of the audio.
        text: its words, lower case.
        speaker: a label, unique over all sources.
        source: short name of the collection.
        split: what it may be used for.
    """

    path: Path
    text: str
    speaker: str
    source: str
    split: Split


def share(name: str) -> float:
    """A number in 0..1 that depends on the name only."""
    return int(hashlib.sha256(name.encode()).hexdigest()[:12], 16) / 16**12


def _words(text: str) -> str:
    return " ".join(_LETTERS.sub(" ", text.lower().replace("’", "'")).split())


def _rows(manifest: Path) -> Iterator[dict[str, str]]:
    try:
        with manifest.open(encoding="utf-8", newline="") as file:
            yield from csv.DictReader(file)
    except OSError as problem:
        raise BadInput(f"{manifest}: can't be read: {problem}") from problem


def _source(path: str) -> str:
    return Path(path).name.split("_")[0]


def training_recordings(speech: Path, tuning_share: float = 0.12) -> list[Recording]:
    """People's clips that may be trained on or tuned with.

    The training pack, and the read sentences among the main manifest's distractors: those can't
    be used to count false acceptances any more.

    Args:
        speech: the folder with `manifest.csv` and `train/manifest.csv`.
        tuning_share: about how many of the pack's speakers are kept for tuning.

    Raises:
        BadInput: a manifest can't be read.
    """
    found = []
    for row in _rows(speech / "train" / "manifest.csv"):
        words = _words(row["transcript"])
        split: Split = "tuning" if share(row["speaker"]) < tuning_share else "train"
        if set(words.split()) & HELD_WORDS:
            split = "held words"
        path = speech / "train" / row["file"]
        found.append(Recording(path, words, row["speaker"], _source(row["file"]), split))
    for row in _rows(speech / "manifest.csv"):
        source, words = _source(row["file"]), _words(row["transcript"])
        if source in {"cv", "ls"} and not set(words.split()) & (UNHEARD_WORDS | HELD_WORDS):
            found.append(Recording(speech / row["file"], words, row["speaker"], source, "train"))
    return [each for each in found if not set(each.text.split()) & UNHEARD_WORDS]


def further_recordings(manifest: Path, tuning_share: float = 0.12) -> list[Recording]:
    """Clips of a manifest with the columns file, transcript and speaker, split by the same rules.

    A shop's own recordings, or the fixtures. Files are relative to the manifest's folder.

    Raises:
        BadInput: the manifest can't be read, lacks a column, or names a file that isn't there.
    """
    found = []
    for number, row in enumerate(_rows(manifest), start=2):
        if lacking := [name for name in ("file", "transcript", "speaker") if not row.get(name)]:
            raise BadInput(
                f"{manifest}:{number}: no {lacking[0]}; file, transcript, speaker wanted"
            )
        path, words = manifest.parent / row["file"], _words(row["transcript"])
        if not path.is_file():
            raise BadInput(f"{manifest}:{number}: there is no file {path}")
        if set(words.split()) & UNHEARD_WORDS:
            continue
        split: Split = "tuning" if share(row["speaker"]) < tuning_share else "train"
        split = "held words" if set(words.split()) & HELD_WORDS else split
        found.append(Recording(path, words, row["speaker"], "shop", split))
    return found


def noises(speech: Path, split: Literal["train", "test"]) -> list[Path]:
    """Recorded noise of one split. Takes of one recording are never in both.

    Raises:
        BadInput: the manifest can't be read.
    """
    found = []
    for row in _rows(speech / "manifest.csv"):
        if row["kind"] != "noise":
            continue
        name = re.sub(r"(_\d+)?$|-[A-Z]$", "", Path(row["file"]).stem)
        trained = share(name) < 0.6 and _source(row["file"]) not in _SHARE_ALIKE
        if trained == (split == "train"):
            found.append(speech / row["file"])
    return found


def test_recordings(speech: Path) -> list[dict[str, str]]:
    """Rows of the main manifest that nothing was trained on: test speakers and distractors.

    Raises:
        BadInput: the manifest can't be read.
    """
    trained = {row["speaker"] for row in _rows(speech / "train" / "manifest.csv")}
    return [
        row | {"file": str(speech / row["file"]), "source": _source(row["file"])}
        for row in _rows(speech / "manifest.csv")
        if row["kind"] != "noise"
        and row["split"] != "train"
        and _source(row["file"]) not in {"cv", "ls"}
        and row["speaker"] not in trained
    ]
