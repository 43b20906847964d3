"""What a model is measured on: recordings that it was not trained on, and the phrases admitted.

Each set has its own list of phrases. Asterisk's prompts (CC BY-SA, one studio voice, Debian
package asterisk-core-sounds-en-wav) and Free Spoken Digit are share-alike: measured on, never
trained on.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from assistant.acoustics.splits import UNHEARD_WORDS, share, test_recordings, training_recordings
from assistant.acoustics.texts import ALPHABET

DIGITS: Final = (
    "zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine",
)  # fmt: skip
CONTROLS: Final = (
    "yes", "no", "stop", "go", "up", "down", "left", "right", "on", "off", "help", "repeat",
    "start",
)  # fmt: skip
SHOP: Final = (
    "step complete", "done and checked", "say again", "say again slowly", "what size",
    "what torque", "what caution", "what parts", "why", "what is next", "where are we",
    "what is off", "how long left", "in newton meters", "in foot pounds", "affirm", "negative",
    "correction", "go back one step", "leave this step out", "stand by", "carry on",
    "quiet please", "hold everything", "report trouble", "take a note", "end of note",
    "disregard", "stripped thread", "wrong part", "fuel isolated", "battery disconnected",
    "brakes bled", "cancel", "confirm",
)  # fmt: skip
PHRASES: Final = (*DIGITS, *CONTROLS, *SHOP)
_ASTERISK: Final = Path("/usr/share/asterisk/sounds/en_US_f_Allison")
_NUMBERS: Final = (
    *DIGITS, "ten", "eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen",
    "eighteen", "nineteen",
)  # fmt: skip
_TENS: Final = (
    "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Trial:
    """One utterance.

    Attributes:
        set: name of the set.
        path: of the audio.
        text: what was said; "" when it is none of the phrases.
        phrases: what is admitted.
    """

    set: str
    path: Path
    text: str
    phrases: tuple[str, ...]


def heard(speech: Path) -> Iterator[Trial]:
    """Words and digits that other people said in training: test speakers."""
    for row in test_recordings(speech):
        if row["kind"] == "speech" and row["transcript"] in PHRASES:
            yield Trial("heard", Path(row["file"]), row["transcript"], PHRASES)


def _asterisk() -> Iterator[tuple[Path, str]]:
    for word in ALPHABET:
        name = "9" if word == "niner" else word[0]
        yield _ASTERISK / "phonetic" / f"{name}_p.wav", word
    for word in sorted(UNHEARD_WORDS - set(ALPHABET)):
        yield _ASTERISK / f"{word}.wav", word
    for number, word in enumerate(_NUMBERS):
        yield _ASTERISK / "digits" / f"{number}.wav", word
    for tens, word in enumerate(_TENS, start=2):
        yield _ASTERISK / "digits" / f"{10 * tens}.wav", word


def unheard(_speech: Path) -> Iterator[Trial]:
    """Asterisk's 73 words; those that no person said in training are the set "unheard"."""
    clips = [(path, word) for path, word in _asterisk() if path.exists()]
    phrases = tuple(sorted({word for _, word in clips}))
    for path, word in clips:
        name = "unheard" if word in UNHEARD_WORDS else "studio numbers"
        yield Trial(name, path, word, phrases)


def crowd(speech: Path) -> Iterator[Trial]:
    """Words and short phrases that no person said in training, by people met nowhere else."""
    rows = [
        row
        for row in test_recordings(speech)
        if row["source"] in {"pcd", "phrase", "sc2"} and row["kind"] == "distractor"
    ]
    phrases = tuple(sorted({row["transcript"].lower() for row in rows}))
    for row in rows:
        yield Trial("crowd words", Path(row["file"]), row["transcript"].lower(), phrases)


def _unrelated(speech: Path) -> Iterator[tuple[Path, bool]]:
    for row in test_recordings(speech):
        if row["kind"] == "distractor" and "contains" not in row["note"]:
            kept = row["source"] == "order" and share(Path(row["file"]).name) < 0.25
            yield Path(row["file"]), kept


def distractors(speech: Path) -> Iterator[Trial]:
    """Speech that is none of the phrases, less what is kept for tuning."""
    for path, kept in _unrelated(speech):
        if not kept:
            yield Trial("unrelated", path, "", PHRASES)


def other_speech(speech: Path) -> Iterator[Trial]:
    """For tuning: a quarter of the orders, and other words of the speakers kept for tuning."""
    for path, kept in _unrelated(speech):
        if kept:
            yield Trial("tuning orders", path, "", PHRASES)
    for row in training_recordings(speech):
        if row.split in {"tuning", "held words"} and row.text not in PHRASES:
            yield Trial("tuning other words", row.path, "", PHRASES)


def synthetic(fixtures: Path, split: str = "held-out") -> Iterator[Trial]:
    """Phrases of the phrasebook in voices that were not trained on, or in those for tuning."""
    with (fixtures / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["kind"] == "command"]
    phrases = tuple(sorted({row["transcript"] for row in rows}))
    for row in rows:
        if row["split"] == split:
            path, name = fixtures / row["file"], f"phrases {row['speaker']}"
            yield Trial(name, path, row["transcript"], phrases)


def tuning(speech: Path) -> Iterator[Trial]:
    """Clips kept for choosing prices and weights: other speakers, and words not trained on."""
    rows = [row for row in training_recordings(speech) if row.split != "train"]
    words = {row.text for row in rows if len(row.text.split()) == 1}
    phrases = tuple(sorted(words | set(PHRASES)))
    for row in rows:
        if row.text in words:
            yield Trial(f"tuning {row.split}", row.path, row.text, phrases)


SETS: Final[dict[str, Callable[[Path], Iterator[Trial]]]] = {
    "heard": heard,
    "unheard": unheard,
    "crowd": crowd,
    "unrelated": distractors,
    "synthetic": synthetic,
    "tuning": tuning,
}
