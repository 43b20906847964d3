"""What was heard, as FLAC files that are written before the entry that names them."""

from __future__ import annotations

import hashlib
import io
from collections.abc import Container
from dataclasses import dataclass
from pathlib import Path

from assistant.errors import BadInput, JournalUnwritable, RecordDamaged
from assistant.record.cover import CLIP_FILE
from assistant.record.durable import Disk, write_new
from assistant.record.folder import CLIPS

RATE = 16_000
"""Samples a second of every clip, mono, 16 bits: what the ear hands over."""
MOST_SAMPLES = 30 * 60 * RATE
"""Longest clip that is read, half an hour (our choice): a note is told in minutes."""
_SAMPLE = 2


@dataclass(frozen=True, slots=True)
class ClipRef:
    """A saved clip.

    Attributes:
        file: name relative to the record folder, for example clips/000001.flac.
        sha256: of the FLAC file's bytes, 64 lower-case hex digits.
        seconds: length of the sound.
    """

    file: str
    sha256: str
    seconds: float

    def data(self) -> dict[str, str | float]:
        """What an entry holds under the key `clip`, so that audit covers the file."""
        return {"file": self.file, "sha256": self.sha256, "seconds": self.seconds}


def save_clip(folder: Path, pcm: bytes, *, disk: Disk | None = None) -> ClipRef:
    """Save sound as the next numbered FLAC file; durable on return, never over another file.

    Args:
        folder: the job folder.
        pcm: 16 kHz mono, signed 16 bits, little-endian.
        disk: where to write; a test's own.

    Raises:
        BadInput: no sound, or half a sample.
        JournalUnwritable: the system refuses.
    """
    if not pcm or len(pcm) % _SAMPLE:
        raise BadInput(f"{len(pcm)} bytes are not 16-bit sound")
    content = _flac(pcm)
    inner = folder / CLIPS
    number = _highest(inner) + 1
    while True:
        file = f"{CLIPS}/{number:06d}.flac"
        try:
            write_new(folder / file, content, disk)
            break
        except FileExistsError:
            number += 1
        except OSError as error:
            raise JournalUnwritable(f"clip {folder / file} is not saved: {error}") from error
    return ClipRef(file, hashlib.sha256(content).hexdigest(), len(pcm) / _SAMPLE / RATE)


def try_clip(folder: Path, pcm: bytes, *, disk: Disk | None = None) -> None:
    """See whether a clip could be saved now; it is taken away again.

    One that a crash leaves behind is taken in like any clip that no entry names.

    Args:
        folder: the job folder.
        pcm: see `save_clip`.
        disk: see `save_clip`.

    Raises:
        JournalUnwritable: it could not.
    """
    tried = folder / save_clip(folder, pcm, disk=disk).file
    try:
        tried.unlink()
        (disk or Disk()).sync_folder(tried.parent)
    except OSError as error:
        raise JournalUnwritable(f"clip {tried} is not taken away again: {error}") from error


def read_clip(folder: Path, file: str) -> bytes:
    """The sound of a clip as 16 kHz mono s16le.

    Args:
        folder: the job folder.
        file: the clip's name as its entry gives it.

    Raises:
        RecordDamaged: it is missing or isn't such a FLAC file.
    """
    import soundfile  # noqa: PLC0415 - loads a C library that reading entries doesn't need

    path = folder / file
    try:
        if path.is_file() and path.stat().st_size > MOST_SAMPLES * _SAMPLE:
            raise RecordDamaged(f"clip {file} is larger than any reply")
        with soundfile.SoundFile(io.BytesIO(path.read_bytes())) as sound:
            if sound.samplerate != RATE or sound.channels != 1:
                raise RecordDamaged(f"clip {file} is not {RATE} Hz mono sound")
            # What the header says of the length is not believed, so it is asked for by the limit.
            samples = sound.read(MOST_SAMPLES + 1, dtype="int16")
    except (OSError, soundfile.SoundFileError) as error:
        raise RecordDamaged(f"clip {file} can't be read: {error}") from error
    if len(samples) > MOST_SAMPLES:
        raise RecordDamaged(f"clip {file} is longer than {MOST_SAMPLES // RATE // 60} minutes")
    return bytes(samples.astype("<i2").tobytes())


def unnamed_clips(folder: Path, named: Container[str]) -> list[ClipRef]:
    """Clips in the folder that no entry names: saved just before a crash, whole or in part.

    A clip cut short by the crash counts as 0 seconds; its bytes are kept and covered as found.

    Raises:
        OSError: the folder can't be read.
    """
    found = []
    for path in sorted((folder / CLIPS).glob("*.flac")):
        file = f"{CLIPS}/{path.name}"
        if file in named or not CLIP_FILE.fullmatch(file):
            continue
        if path.is_symlink() or not path.is_file():
            continue
        content = path.read_bytes()
        found.append(ClipRef(file, hashlib.sha256(content).hexdigest(), _seconds(content)))
    return found


def _flac(pcm: bytes) -> bytes:
    import numpy as np  # noqa: PLC0415 - as above
    import soundfile  # noqa: PLC0415 - as above

    made = io.BytesIO()
    soundfile.write(made, np.frombuffer(pcm, "<i2"), RATE, format="FLAC", subtype="PCM_16")
    return made.getvalue()


def _seconds(content: bytes) -> float:
    import soundfile  # noqa: PLC0415 - as above

    try:
        return float(soundfile.info(io.BytesIO(content)).duration)
    except soundfile.SoundFileError:
        return 0.0


def _highest(inner: Path) -> int:
    try:
        stems = [path.stem for path in inner.iterdir()]
    except OSError as error:
        raise JournalUnwritable(f"{inner} can't be read, so no clip is saved: {error}") from error
    return max((int(stem) for stem in stems if stem.isascii() and stem.isdecimal()), default=0)
