"""The spoken record: a job as one sound file with captions, made from its record alone."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Protocol

import soundfile

from assistant.errors import BadInput
from assistant.record.clips import read_clip
from assistant.report.captions import HEADER, Cue, chapters, cue_block
from assistant.report.retelling import Told, retell
from assistant.speaking.speech import HEARING_RATE, Speech

PAUSE_S: Final = 0.4
"""Silence between two entries, whatever it was in the shop; our choice."""
LATER_S: Final = 60.0
"""From here on a gap in the job is worth telling."""
LATER_PAUSE_S: Final = 1.2
"""Silence that stands for such a gap; our choice."""
_WORD_S = 0.3  # to read a word where there is no sound: 200 words a minute (common practice)
_READ_S = (1.0, 6.0)  # at least, at most
_BLOCK = 1 << 16


class Voice(Protocol):
    """Says words again; `speaking.renderer.Renderer` is one."""

    def render(self, words: str, *, slowly: bool = False) -> Speech:
        """The words as speech."""


@dataclass(frozen=True, slots=True)
class Placed:
    """An entry with its place in the sound, in seconds."""

    told: Told
    start: float
    end: float

    @property
    def later(self) -> bool:
        """Whether the job stood still before it."""
        return self.told.after_s >= LATER_S


@dataclass(frozen=True, slots=True)
class Spoken:
    """A spoken record on disk.

    Attributes:
        sound, captions, chapters: the files.
        placed: every entry in it.
        seconds: length of the sound.
    """

    sound: Path
    captions: Path
    chapters: Path
    placed: tuple[Placed, ...]
    seconds: float


def make_spoken(folder: Path, out: Path, voice: Voice) -> Spoken:
    """Write sound, captions and chapters of a job.

    Prompts are rendered again, replies are the clips of the record, silence is shortened. Where
    no sound of an entry is kept, silence stands in which its text can be read. The sound goes to
    disk entry by entry: memory holds texts and times, never more than one entry's sound.

    Args:
        folder: the record.
        out: a folder, made where it is missing; files of the same names are replaced.
        voice: says the prompts.

    Raises:
        BadInput: the files can't be written.
        RecordDamaged: the record doesn't verify.
        VoiceUnavailable: nothing here can speak.
    """
    job = folder.name
    sound, captions, parts = (out / f"{job}{end}" for end in (".flac", ".vtt", "-chapters.vtt"))
    try:
        out.mkdir(parents=True, exist_ok=True)
        with (
            _replacing(sound) as part,
            _replacing(captions) as lines,
            lines.open("w", encoding="utf-8", newline="\n") as cues,
        ):
            cues.write(HEADER)
            placed = []
            with _Track(part) as track:
                for told in retell(folder):
                    one = track.add(told, _sound(folder, told, voice))
                    cues.write(cue_block(Cue(told.n, one.start, one.end, told.who, told.text)))
                    placed.append(one)
                seconds = track.seconds
        runs = chapters(((one.told.section, one.start) for one in placed), seconds)
        parts.write_text(HEADER + "".join(map(cue_block, runs)), encoding="utf-8", newline="\n")
    except (OSError, soundfile.SoundFileError) as error:
        msg = f"the spoken record can't be written to {out}: {error}"
        raise BadInput(msg) from error
    return Spoken(sound, captions, parts, tuple(placed), seconds)


def _sound(folder: Path, told: Told, voice: Voice) -> Speech:
    if told.clip is not None:
        return Speech(read_clip(folder, told.clip), HEARING_RATE)
    if told.words:
        return voice.render(told.words, slowly=told.slowly).at_rate(HEARING_RATE)
    least, most = _READ_S
    return Speech.silence(min(most, max(least, _WORD_S * len(told.text.split()))), HEARING_RATE)


class _Track:
    """A FLAC file (16 kHz, mono, 16 bits) that grows entry by entry."""

    def __init__(self, path: Path) -> None:
        self._file = soundfile.SoundFile(
            str(path), "w", samplerate=HEARING_RATE, channels=1, format="FLAC", subtype="PCM_16"
        )
        self._written = 0

    def __enter__(self) -> _Track:
        return self

    def __exit__(self, *_: object) -> None:
        self._file.close()

    @property
    def seconds(self) -> float:
        return self._written / HEARING_RATE

    def add(self, told: Told, sound: Speech) -> Placed:
        """Put an entry behind the last one."""
        if self._written:
            pause = LATER_PAUSE_S if told.after_s >= LATER_S else PAUSE_S
            self._write(Speech.silence(pause, HEARING_RATE))
        start = self.seconds
        self._write(sound)
        return Placed(told, start, self.seconds)

    def _write(self, sound: Speech) -> None:
        for first in range(0, len(sound.samples), _BLOCK):
            self._file.write(sound.samples[first : first + _BLOCK])
        self._written += len(sound.samples)


@contextlib.contextmanager
def _replacing(path: Path) -> Iterator[Path]:
    """A name beside the file; it takes the file's place only when it is whole."""
    part = path.with_name(f"{path.name}.part")
    try:
        yield part
        part.replace(path)
    finally:
        part.unlink(missing_ok=True)
