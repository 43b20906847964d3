"""The voices of a rehearsal: recorded lines where there are some, rendered ones otherwise."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from pathlib import Path

from assistant.errors import BadInput
from assistant.hearing.source import RATE, read_audio
from assistant.rehearsal.script import Person
from assistant.speaking.renderer import Renderer
from assistant.speaking.speech import Speech, join

_PAUSE_S = 0.12
"""Between the pieces of a joined line; they have little silence of their own left."""


def fixtures_folder() -> Path:
    """The folder of recorded lines: in a working copy beside the package, else inside it.

    Raises:
        BadInput: neither is there; the installation is not whole.
    """
    package = Path(__file__).parent.parent
    for folder in (package.parent / "audio_fixtures", package / "bundled" / "audio_fixtures"):
        if (folder / "manifest.csv").is_file():
            return folder
    msg = f"no audio_fixtures beside or inside {package}; install Gloves On again"
    raise BadInput(msg)


class Cast:
    """Gives a person's line as sound, 16 kHz mono s16le.

    Args:
        people: id -> person with the voice that speaks for them.
        renderer: speaks what no recording holds.
    """

    def __init__(self, people: Mapping[str, Person], renderer: Renderer) -> None:
        self._people = people
        self._renderer = renderer
        self._folder = fixtures_folder()
        self._clips = _clips(self._folder / "manifest.csv")
        self._loaded: dict[Path, bytes] = {}
        self.recorded = 0
        self.rendered = 0

    def line(self, who: str, words: str) -> bytes:
        """The line in this person's voice.

        A line is one recording, or several joined (words and a challenge number), or rendered.
        """
        person = self._people[who]
        found = self._joined(person.voice, words.lower())
        if found is not None:
            self.recorded += 1
            pieces = [Speech(self._load(path), RATE) for path in found]
            if len(pieces) > 1:
                pieces = [piece.trimmed() for piece in pieces]
            return _pitched(join(pieces, _PAUSE_S), person.pitch).pcm
        self.rendered += 1
        return self._renderer.render(words).at_rate(RATE).pcm

    def _joined(self, voice: str, words: str) -> list[Path] | None:
        """Recordings that together say the words: the longest beginning first."""
        said = words.split()
        for size in range(len(said), 0, -1):
            path = self._clips.get((voice, " ".join(said[:size])))
            if path is None:
                continue
            if size == len(said):
                return [path]
            rest = self._joined(voice, " ".join(said[size:]))
            if rest is not None:
                return [path, *rest]
        return None

    def _load(self, path: Path) -> bytes:
        if path not in self._loaded:
            self._loaded[path] = read_audio(path)
        return self._loaded[path]


def _pitched(speech: Speech, pitch: float) -> Speech:
    """The speech higher or lower, and faster or slower with it, as another person might speak."""
    if pitch == 1:
        return speech
    return Speech(speech.pcm, round(RATE * pitch)).at_rate(RATE)


def _clips(manifest: Path) -> dict[tuple[str, str], Path]:
    with manifest.open(encoding="utf-8", newline="") as rows:
        return {
            (row["speaker"], row["transcript"].lower()): manifest.parent / row["file"]
            for row in csv.DictReader(rows)
        }
