"""Speech models: those here, the standard ones to fetch, and whether one works."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Final

import platformdirs
import yaml
from filelock import FileLock
from pydantic import BaseModel, ConfigDict, Field

from assistant.errors import BadInput, EngineUnavailable
from assistant.hearing.download import Progress, fetch, largest, no_progress, unpack
from assistant.hearing.ear import Ear, Heard
from assistant.hearing.engines.phrases import unheard_phrases
from assistant.hearing.engines.vosk_engine import VoskEngine
from assistant.hearing.lines import Grammar
from assistant.hearing.source import PcmSource, room_tone

HOME_VARIABLE: Final = "GLOVESON_HOME"
"""Names the folder for this user's data, models among it, instead of the system's usual place."""


class KnownModel(BaseModel):
    """A model that can be fetched."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    language: str
    about: str
    address: str
    bytes: Annotated[int, Field(gt=0)]
    sha256: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]
    license: str


@dataclass(frozen=True, slots=True)
class ListedModel:
    """A line of `gloveson model list`.

    Attributes:
        name: name of the model's folder.
        folder: where it is, None when it is not here.
        known: its entry among the standard models, None for one that was put here by hand.
    """

    name: str
    folder: Path | None
    known: KnownModel | None


@dataclass(frozen=True, slots=True)
class TriedModel:
    """What came of trying a model.

    Attributes:
        folder: the model.
        load_s: how long it took to load.
        rejects: whether it has a word for speech that is none of the phrases.
        unknown: phrases that it could never hear, each with the words it lacks.
        heard: what it made of the clip, None when there was no clip or no voice in it.
        speed: recognition time over the clip's length, None without a clip.
    """

    folder: Path
    load_s: float
    rejects: bool
    unknown: Mapping[str, tuple[str, ...]]
    heard: Heard | None = None
    speed: float | None = None


def models_folder() -> Path:
    """Where models are kept: below $GLOVESON_HOME, or the system's place for a user's data."""
    home = os.environ.get(HOME_VARIABLE)
    base = Path(home) if home else Path(platformdirs.user_data_dir("gloveson", appauthor=False))
    return base / "models"


@cache
def known_models() -> Mapping[str, KnownModel]:
    """The standard models by name."""
    text = files("assistant.hearing").joinpath("data/models.yaml").read_text("utf-8")
    return {name: KnownModel.model_validate(entry) for name, entry in yaml.safe_load(text).items()}


def list_models() -> tuple[ListedModel, ...]:
    """Standard models and those in the models folder, by name."""
    folder = models_folder()
    here = {}
    if folder.is_dir():
        here = {
            path.name: path
            for path in folder.iterdir()
            if path.is_dir() and not path.name.endswith(".unpacking")
        }
    names = sorted(set(here) | set(known_models()))
    return tuple(ListedModel(name, here.get(name), known_models().get(name)) for name in names)


def find_model(name_or_path: str) -> Path:
    """The folder of a model, given by its name or its path.

    Raises:
        EngineUnavailable: it is not here; says how to get it.
    """
    try:
        path = Path(name_or_path).expanduser()
        if name_or_path and path.is_dir():
            return path.resolve()
        named = models_folder() / name_or_path
        if len(path.parts) == 1 and named.is_dir():
            return named.resolve()
    except (OSError, RuntimeError):  # too long for any system; ~NAME of nobody here
        pass
    if name_or_path in known_models():
        raise EngineUnavailable(
            f"the model {name_or_path} is not here yet; fetch it with: gloveson model get "
            f"{name_or_path}"
        )
    have = ", ".join(model.name for model in list_models())
    raise EngineUnavailable(f"{name_or_path!r} is no folder and no model known here ({have})")


def get_model(name: str, progress: Progress = no_progress) -> Path:
    """Fetch a standard model, verify and unpack it; does nothing when it is here.

    Raises:
        BadInput: no standard model of this name.
        DownloadFailed: see `download.fetch` and `download.unpack`.
    """
    known = known_models().get(name)
    if known is None:
        raise BadInput(f"no standard model is called {name!r}; one of: {', '.join(known_models())}")
    folder = models_folder()
    folder.mkdir(parents=True, exist_ok=True)
    place = folder / name
    with FileLock(folder / f"{name}.lock"):
        if place.is_dir():
            return place
        archive = folder / f"{name}.zip.part"
        fetch(known.address, archive, known.bytes, known.sha256, progress)
        unpack(archive, place, largest(known.bytes))
        archive.unlink()
    return place


def remove_model(name: str) -> None:
    """Remove a fetched model and whatever is left of a broken download.

    Raises:
        BadInput: the name is not one of a standard model.
    """
    if name not in known_models():
        raise BadInput(f"no standard model is called {name!r}")
    shutil.rmtree(models_folder() / name, ignore_errors=True)
    (models_folder() / f"{name}.zip.part").unlink(missing_ok=True)


def try_model(folder: Path, grammar: Grammar, clip: bytes | None = None) -> TriedModel:
    """Load a Vosk model, look every word of a grammar up, and let it hear a clip.

    Args:
        folder: of the model.
        grammar: usually the whole phrasebook.
        clip: 16 kHz mono s16le; heard only when no word is unknown.

    Raises:
        EngineUnavailable: it can't be loaded.
    """
    began = time.perf_counter()
    engine = VoskEngine(folder)
    load_s = time.perf_counter() - began
    unknown = unheard_phrases(grammar, engine.unknown_words)
    if clip is None or unknown:
        return TriedModel(folder, load_s, engine.rejects, unknown)
    ear = Ear(PcmSource(room_tone(8_000) + clip), engine)
    began = time.perf_counter()
    heard = ear.hear(grammar)
    speed = (time.perf_counter() - began) / max(len(clip) / 32_000, 1e-3)
    ear.close()
    return TriedModel(
        folder,
        load_s,
        engine.rejects,
        unknown,
        heard if isinstance(heard, Heard) else None,
        speed,
    )
