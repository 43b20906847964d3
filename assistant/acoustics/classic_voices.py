"""Older synthesizers as further voices: Flite's recorded voices and eSpeak NG's formant rules.

Both are called in their shared libraries: thousands of phrases a minute, without a process each.
"""

from __future__ import annotations

import ctypes
import random
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.int16]

FLITE_VOICES: Final = ("kal16", "slt")
"""Trained on. Flite's awb tunes, its rms only tests."""

ESPEAK_HELD_OUT: Final = frozenset({"f2", "adam"})
_ACCENTS: Final = ("en-us",) * 4 + ("en-gb", "en-gb-x-rp", "en-gb-scotland", "en-029")
_VARIANTS: Final = [
    "Alex",
    "Alicia",
    "Andrea",
    "Annie",
    "Diogo",
    "Gene",
    "Gene2",
    "Henrique",
    "Hugo",
    "Jacky",
    "Lee",
    "Mario",
    "Michael",
    "Mike",
    "Mr_serious",
    "Nguyen",
    "Reed",
    "Tweaky",
    "anika",
    "antonio",
    "aunty",
    "belinda",
    "benjamin",
    "boris",
    "caleb",
    "david",
    "ed",
    "edward",
    "edward2",
    "f1",
    "f3",
    "f4",
    "f5",
    "grandma",
    "grandpa",
    "ian",
    "iven",
    "iven2",
    "iven3",
    "iven4",
    "john",
    "kaukovalta",
    "klatt",
    "klatt2",
    "klatt3",
    "klatt4",
    "linda",
    "m1",
    "m2",
    "m3",
    "m4",
    "m5",
    "m6",
    "m7",
    "m8",
    "marcelo",
    "max",
    "michel",
    "miguel",
    "norbert",
    "pablo",
    "paul",
    "pedro",
    "quincy",
    "rob",
    "robert",
    "sandro",
    "shelby",
    "steph",
    "steph2",
    "steph3",
    "travis",
    "victor",
    "zac",
]
_SYNCHRONOUS: Final = 2
_RATE, _PITCH, _RANGE = 1, 3, 4
_UTF8: Final = 1


class _Wave(ctypes.Structure):
    _fields_ = (
        ("type", ctypes.c_char_p),
        ("rate", ctypes.c_int),
        ("count", ctypes.c_int),
        ("channels", ctypes.c_int),
        ("samples", ctypes.POINTER(ctypes.c_short)),
    )


class _Voice(ctypes.Structure):
    _fields_ = (("name", ctypes.c_char_p), ("features", ctypes.c_void_p))


class Flite:
    """Flite's voices of `FLITE_VOICES`.

    Args:
        folder: holds libflite and its voices.

    Raises:
        OSError: a library is missing.
    """

    def __init__(self, folder: Path) -> None:
        def library(name: str) -> Any:  # noqa: ANN401 - ctypes
            return ctypes.CDLL(str(folder / f"lib{name}.so.1"), mode=ctypes.RTLD_GLOBAL)

        if (sound := folder / "libasound.so.2").exists():  # for a machine without it
            ctypes.CDLL(str(sound), mode=ctypes.RTLD_GLOBAL)
        self._flite = library("flite")
        library("flite_cmulex")
        library("flite_usenglish")
        self._flite.flite_init()
        self._flite.flite_text_to_wave.restype = ctypes.POINTER(_Wave)
        self._flite.flite_text_to_wave.argtypes = [ctypes.c_char_p, ctypes.c_void_p]
        self._flite.flite_feat_set_float.argtypes = [
            ctypes.c_void_p,
            ctypes.c_char_p,
            ctypes.c_float,
        ]
        self._flite.delete_wave.argtypes = [ctypes.c_void_p]
        self._voices = []
        for name in FLITE_VOICES:
            register = getattr(library(f"flite_cmu_us_{name}"), f"register_cmu_us_{name}")
            register.restype = ctypes.c_void_p
            register.argtypes = [ctypes.c_char_p]
            self._voices.append(register(None))

    def speak(self, text: str, random: random.Random) -> Samples:
        """Say a text at some pace; 16 kHz."""
        voice = random.choice(self._voices)
        features = ctypes.cast(voice, ctypes.POINTER(_Voice)).contents.features
        pace = ctypes.c_float(random.uniform(0.75, 1.35))
        self._flite.flite_feat_set_float(features, b"duration_stretch", pace)
        wave = self._flite.flite_text_to_wave(text.encode(), voice)
        made = np.ctypeslib.as_array(wave.contents.samples, (wave.contents.count,)).copy()
        self._flite.delete_wave(wave)
        return np.asarray(made, dtype=np.int16)


class Espeak:
    """eSpeak NG in several accents and variants.

    Args:
        library: the shared library.
        data: the folder that holds `espeak-ng-data`.

    Raises:
        OSError: the library or its data can't be loaded.
    """

    def __init__(self, library: Path, data: Path) -> None:
        self._espeak = ctypes.CDLL(str(library))
        self.rate = int(self._espeak.espeak_Initialize(_SYNCHRONOUS, 0, str(data).encode(), 0))
        if self.rate <= 0:
            raise OSError(f"eSpeak NG can't use its data in {data}")
        self._pieces: list[Samples] = []
        kind = ctypes.CFUNCTYPE(
            ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p
        )

        def take(samples: Any, count: int, _events: object) -> int:  # noqa: ANN401 - ctypes
            if samples and count > 0:
                self._pieces.append(np.ctypeslib.as_array(samples, (count,)).copy())
            return 0

        self._take = kind(take)
        self._espeak.espeak_SetSynthCallback(self._take)

    def speak(self, text: str, random: random.Random) -> Samples:
        """Say a text in some voice; samples at `rate`, empty when the voice isn't there."""
        voice = f"{random.choice(_ACCENTS)}+{random.choice(_VARIANTS)}"
        if self._espeak.espeak_SetVoiceByName(voice.encode()) != 0:
            return np.zeros(0, np.int16)
        for which, value in (
            (_RATE, random.randint(115, 200)),
            (_PITCH, random.randint(25, 75)),
            (_RANGE, random.randint(20, 70)),
        ):
            self._espeak.espeak_SetParameter(which, value, 0)
        said = text.encode() + b"\0"
        self._pieces.clear()
        self._espeak.espeak_Synth(said, len(said), 0, 1, 0, _UTF8, None, None)
        return np.concatenate(self._pieces) if self._pieces else np.zeros(0, np.int16)
