"""Synthesizers that speak from statistical models of a voice: SVOX Pico and RHVoice.

Like the older ones they are called in their shared libraries. See `pack` for where the libraries
and voices come from.
"""

from __future__ import annotations

import ctypes
import random
from pathlib import Path
from typing import Any, Final

import numpy as np
import numpy.typing as npt

Samples = npt.NDArray[np.int16]

PICO_VOICES: Final = {"en-US": ("en-US_ta", "en-US_lh0_sg"), "en-GB": ("en-GB_ta", "en-GB_kh0_sg")}
"""Files of each: how its language is read, how its speaker sounds."""

RHVOICE_VOICES: Final = ("Bdl", "Clb", "Slt")
"""Those whose license allows any use. Alan isn't among them: its speaker may be the one of Flite's
awb, which tunes."""

_MEMORY: Final = 2_500_000
_NAME_SIZE: Final = 32
_BUSY, _IDLE = 201, 200
_BUFFER: Final = 2048
_TEXT_MESSAGE: Final = 0
_PLAY_ON: Final = 1


class _PicoVoice:
    """One voice: a system of its own, since a system holds one engine at a time."""

    def __init__(self, pico: Any, folder: Path, name: str) -> None:  # noqa: ANN401 - ctypes
        self._pico = pico
        self._memory = ctypes.create_string_buffer(_MEMORY)  # the engine lives in it
        system = ctypes.c_void_p()
        self._ask("initialize", self._memory, _MEMORY, ctypes.byref(system))
        self._ask("createVoiceDefinition", system, name.encode())
        for file in PICO_VOICES[name]:
            resource, called = ctypes.c_void_p(), ctypes.create_string_buffer(_NAME_SIZE)
            path = str(folder / f"{file}.bin").encode()
            self._ask("loadResource", system, path, ctypes.byref(resource))
            self._ask("getResourceName", system, resource, called)
            self._ask("addResourceToVoiceDefinition", system, name.encode(), called)
        self._engine = ctypes.c_void_p()
        self._ask("newEngine", system, name.encode(), ctypes.byref(self._engine))

    def _ask(self, function: str, *arguments: object) -> None:
        if status := getattr(self._pico, f"pico_{function}")(*arguments):
            raise OSError(f"Pico's {function} fails with status {status}")

    def say(self, text: str) -> Samples:
        left = text.encode() + b"\0"
        put, got, kind = ctypes.c_int16(), ctypes.c_int16(), ctypes.c_int16()
        buffer = ctypes.create_string_buffer(_BUFFER)
        made = bytearray()
        status = _BUSY
        while left or status == _BUSY:
            if left:
                self._ask("putTextUtf8", self._engine, left, len(left), ctypes.byref(put))
                left = left[put.value :]
            got.value = 0
            status = self._pico.pico_getData(
                self._engine, buffer, _BUFFER, ctypes.byref(got), ctypes.byref(kind)
            )
            if status not in {_BUSY, _IDLE}:
                raise OSError(f"Pico can't say {text!r}: status {status}")
            made += buffer.raw[: got.value]
        return np.frombuffer(bytes(made), dtype="<i2")


class Pico:
    """SVOX Pico's voices of `PICO_VOICES`.

    Args:
        folder: holds libttspico.so.0 and the voices' files.

    Raises:
        OSError: the library or a voice can't be loaded.
    """

    def __init__(self, folder: Path) -> None:
        pico = ctypes.CDLL(str(folder / "libttspico.so.0"))
        self._voices = [_PicoVoice(pico, folder, name) for name in PICO_VOICES]

    def speak(self, text: str, random: random.Random) -> Samples:
        """Say a text at some pace and pitch; 16 kHz."""
        voice = random.choice(self._voices)
        pace, pitch = random.randint(75, 140), random.randint(75, 135)
        tagged = f'<speed level="{pace}"><pitch level="{pitch}">{text}</pitch></speed>'
        return voice.say(tagged)


class _Callbacks(ctypes.Structure):
    _fields_ = (
        ("rate", ctypes.c_void_p),
        ("speech", ctypes.c_void_p),
        ("mark", ctypes.c_void_p),
        ("word", ctypes.c_void_p),
        ("word_end", ctypes.c_void_p),
        ("sentence", ctypes.c_void_p),
        ("sentence_end", ctypes.c_void_p),
        ("audio", ctypes.c_void_p),
        ("done", ctypes.c_void_p),
    )


class _Start(ctypes.Structure):
    _fields_ = (
        ("data", ctypes.c_char_p),
        ("config", ctypes.c_char_p),
        ("resources", ctypes.c_void_p),
        ("callbacks", _Callbacks),
        ("options", ctypes.c_uint),
    )


class _Manner(ctypes.Structure):
    _fields_ = (
        ("voice", ctypes.c_char_p),
        ("absolute_rate", ctypes.c_double),
        ("absolute_pitch", ctypes.c_double),
        ("absolute_volume", ctypes.c_double),
        ("relative_rate", ctypes.c_double),
        ("relative_pitch", ctypes.c_double),
        ("relative_volume", ctypes.c_double),
        ("punctuation", ctypes.c_int),
        ("punctuation_list", ctypes.c_char_p),
        ("capitals", ctypes.c_int),
        ("flags", ctypes.c_int),
    )


class RHVoice:
    """RHVoice's voices of `RHVOICE_VOICES`.

    Args:
        folder: holds the libraries, `data` (languages and voices) and `config`.

    Raises:
        OSError: a library, the language or a voice can't be loaded.
    """

    def __init__(self, folder: Path) -> None:
        for name in ("libgcc_s.so.1", "libstdc++.so.6"):  # the machine's own suit torch as well
            try:
                ctypes.CDLL(name, mode=ctypes.RTLD_GLOBAL)
            except OSError:
                ctypes.CDLL(str(folder / name), mode=ctypes.RTLD_GLOBAL)
        for name in ("libsonic.so.0", "libRHVoice_core.so.7"):
            ctypes.CDLL(str(folder / name), mode=ctypes.RTLD_GLOBAL)
        self._library = ctypes.CDLL(str(folder / "libRHVoice.so.5"))
        self._library.RHVoice_new_tts_engine.restype = ctypes.c_void_p
        self._library.RHVoice_new_message.restype = ctypes.c_void_p
        self._library.RHVoice_new_message.argtypes = [
            *(ctypes.c_void_p, ctypes.c_char_p, ctypes.c_uint, ctypes.c_int),
            *(ctypes.POINTER(_Manner), ctypes.c_void_p),
        ]
        self._library.RHVoice_speak.argtypes = [ctypes.c_void_p]
        self._library.RHVoice_delete_message.argtypes = [ctypes.c_void_p]
        self._library.RHVoice_get_number_of_voices.argtypes = [ctypes.c_void_p]
        self.rate = 16_000
        self._pieces: list[Samples] = []
        self._called = self._callbacks()
        kinds = _Callbacks(*(ctypes.cast(called, ctypes.c_void_p).value for called in self._called))
        data, config = str(folder / "data").encode(), str(folder / "config").encode()
        self._start = _Start(data, config, None, kinds, 0)
        self._engine = self._library.RHVoice_new_tts_engine(ctypes.byref(self._start))
        if not self._engine:
            raise OSError(f"RHVoice can't use its data in {folder}")
        there = self._library.RHVoice_get_number_of_voices(self._engine)
        if there != len(RHVOICE_VOICES):
            raise OSError(f"{folder} has {there} voices of RHVoice, {RHVOICE_VOICES} are needed")

    def _callbacks(self) -> tuple[Any, Any]:
        rate = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_int, ctypes.c_void_p)
        speech = ctypes.CFUNCTYPE(
            ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_uint, ctypes.c_void_p
        )

        def change(to: int, _data: object) -> int:
            self.rate = to
            return _PLAY_ON

        def take(samples: Any, count: int, _data: object) -> int:  # noqa: ANN401 - ctypes
            self._pieces.append(np.ctypeslib.as_array(samples, (count,)).copy())
            return _PLAY_ON

        return rate(change), speech(take)

    def speak(self, text: str, random: random.Random) -> Samples:
        """Say a text at some pace and pitch; samples at `rate`."""
        manner = _Manner(voice=random.choice(RHVOICE_VOICES).encode())
        manner.relative_rate = random.uniform(0.75, 1.35)
        manner.relative_pitch = random.uniform(0.85, 1.2)
        manner.relative_volume = 1.0
        said = text.encode()
        message = self._library.RHVoice_new_message(
            self._engine, said, len(said), _TEXT_MESSAGE, ctypes.byref(manner), None
        )
        if not message:
            raise OSError(f"RHVoice can't say {text!r}")
        self._pieces.clear()
        spoken = self._library.RHVoice_speak(message)
        self._library.RHVoice_delete_message(message)
        if not spoken:
            raise OSError(f"RHVoice can't say {text!r}")
        return np.concatenate(self._pieces) if self._pieces else np.zeros(0, np.int16)
