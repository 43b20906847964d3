"""A person's takes on disk: `voices/<id>/` with FLAC clips and an index of what each one says.

The folder is the person's. It holds nothing computed: templates are made of the clips when they are
loaded. `remove` leaves nothing of it. Nothing here looks for whose voice a sound is.
"""

from __future__ import annotations

import os
import re
import shutil
from pathlib import Path
from typing import Annotated, Final

import platformdirs
import soundfile
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from assistant.errors import AudioUnavailable, BadInput
from assistant.hearing.enrollment.evidence import Phrase, enrolled
from assistant.hearing.enrollment.spectrum import Frames, Take, take_of
from assistant.hearing.models import HOME_VARIABLE
from assistant.hearing.noise import from_pcm, to_pcm
from assistant.hearing.source import RATE, read_audio

INDEX: Final = "voice.json"
_LARGEST: Final = 4 * 1024 * 1024
_PERSON: Final = re.compile(r"[a-z][a-z0-9-]{0,31}")


class Clip(BaseModel):
    """One take: its file in the folder, and the phrase."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    file: Annotated[str, Field(pattern=r"^[0-9]{4}\.flac$")]
    phrase: Annotated[str, Field(min_length=1, max_length=200)]


class Index(BaseModel):
    """What a person's folder holds."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    about: str = (
        "These takes belong to the person they are named after. They help to tell this person's "
        "phrases apart and are never used to tell who somebody is. "
        "To remove them: gloveson enroll NAME --remove"
    )
    clips: Annotated[tuple[Clip, ...], Field(strict=False)] = ()


def voices_home() -> Path:
    """Where voices are kept: below $GLOVESON_HOME, or the system's place for a user's data."""
    home = os.environ.get(HOME_VARIABLE)
    base = Path(home) if home else Path(platformdirs.user_data_dir("gloveson", appauthor=False))
    return base / "voices"


class VoiceFolder:
    """One person's takes.

    Args:
        person: id on the roster.
        home: folder of all voices; the user's own if left out.
        unread: whether what is there is only to be removed, whatever state it is in.

    Raises:
        BadInput: not an id, or the index can't be read.
    """

    def __init__(self, person: str, home: Path | None = None, *, unread: bool = False) -> None:
        if _PERSON.fullmatch(person) is None:
            raise BadInput(f'"{person}" can\'t be the id of a person: small letters and hyphens')
        self.person = person
        self.path = (home or voices_home()) / person
        self._index = Index() if unread else self._read()

    def _read(self) -> Index:
        path = self.path / INDEX
        try:
            return Index.model_validate_json(_small(path).decode("utf-8"))
        except FileNotFoundError:
            return Index()
        except (OSError, UnicodeDecodeError, ValidationError) as problem:
            msg = f"{path}: not an index of takes: {problem}; enroll {self.person} anew"
            raise BadInput(msg) from problem

    @property
    def clips(self) -> tuple[Clip, ...]:
        """What is enrolled, in the order it was said."""
        return self._index.clips

    def count(self, phrase: str) -> int:
        """Takes of a phrase."""
        return sum(clip.phrase == phrase for clip in self.clips)

    def add(self, phrase: str, pcm: bytes) -> None:
        """Keep a take: 16 kHz mono s16le; the index names it only once its sound is on disk.

        Raises:
            BadInput: nothing in it stands out of the room, or the folder can't be written.
        """
        take_of(from_pcm(pcm))
        number = max((int(clip.file[:4]) for clip in self.clips), default=0) + 1
        clip = Clip(file=f"{number:04d}.flac", phrase=phrase)
        index = self._index.model_copy(update={"clips": (*self.clips, clip)})
        try:
            self.path.mkdir(parents=True, exist_ok=True, mode=0o700)
            samples = from_pcm(to_pcm(from_pcm(pcm)))
            soundfile.write(self.path / clip.file, samples, RATE, subtype="PCM_16")
            fresh = self.path / f"{INDEX}.new"
            fresh.write_text(index.model_dump_json(indent=2) + "\n", encoding="utf-8")
            fresh.replace(self.path / INDEX)
        except (OSError, soundfile.LibsndfileError) as problem:
            raise BadInput(f"{self.path}: a take can't be kept: {problem}") from problem
        self._index = index

    def takes(self) -> dict[str, list[tuple[Take, Frames]]]:
        """Each phrase's takes and their sound.

        Raises:
            BadInput: a clip is missing or no sound; says which.
        """
        found: dict[str, list[tuple[Take, Frames]]] = {}
        for clip in self.clips:
            try:
                sound = from_pcm(read_audio(self.path / clip.file))
                found.setdefault(clip.phrase, []).append((take_of(sound), sound))
            except (AudioUnavailable, BadInput) as problem:
                msg = f"{self.path / clip.file}: {problem}; enroll {self.person} anew"
                raise BadInput(msg) from problem
        return found

    def phrases(self) -> tuple[Phrase, ...]:
        """The templates, made of the clips."""
        return enrolled(self.takes())

    def remove(self) -> bool:
        """Remove everything of this person; whether there was something."""
        if not self.path.is_dir():
            return False
        try:
            shutil.rmtree(self.path)
        except OSError as problem:
            raise BadInput(f"{self.path}: can't be removed: {problem}") from problem
        self._index = Index()
        return True


def _small(path: Path) -> bytes:
    """All of a small file; a device would never end and a pipe never begin, so neither is opened.

    Raises:
        OSError: it can't be read, is none or is too big.
    """
    if path.exists() and not path.is_file():
        msg = "it is not a file"
        raise OSError(msg)
    with path.open("rb") as file:
        content = file.read(_LARGEST + 1)
    if len(content) > _LARGEST:
        msg = f"it is over {_LARGEST} bytes long"
        raise OSError(msg)
    return content
