"""The child process that owns the voice: one phrase at a time, each into a file of its own.

Run as a script by `voice_process.VoiceProcess`; it imports nothing of ours, so that a crash in a
speech library takes down nothing but this. Protocol, one JSON object a line:

    child  -> {"ready": {"driver": "espeak", "default": "gmw/en-us", "voices": [...]}}
    parent -> {"id": 1, "text": "...", "voice": "...", "rate": 170, "file": "...", "patience_s": 9}
    child  -> {"id": 1} once the file is complete, or {"id": 1, "error": "..."}

A voice is {"id", "name", "language"}. The child ends when its standard input does. The library
prints to standard output, so the answers go to a copy of it, and standard output itself is joined
to standard error.
"""

from __future__ import annotations

import importlib
import json
import os
import sys
import threading
import time
from collections.abc import Mapping
from pathlib import Path
from typing import Any, TextIO

_SILENT_DRIVERS = frozenset({"sapi5"})
"""Drivers that save before `runAndWait` returns, with no finished event (read in their source)."""

_SETTLE_S = 10.0  # for a voice that has just been loaded; a millisecond is usual
_NEEDED = 44  # bytes: the shortest header of a WAV file; an AIFF file's is longer


class Voice:
    """pyttsx3, asked for one file at a time."""

    def __init__(self) -> None:
        _prefer_packaged_espeak()
        import pyttsx3  # noqa: PLC0415 - only after the library it should use has been loaded

        self._engine = pyttsx3.init()
        self._espeak: Any = None
        if self._engine.driver_name == "espeak":
            self._espeak = importlib.import_module("pyttsx3.drivers._espeak")
            self._settle(time.monotonic() + _SETTLE_S)
            self._engine.runAndWait()  # until the first one, properties are only queued
        self._finished = threading.Event()
        self._problem = ""
        self._engine.connect("finished-utterance", self._on_finished)
        self._engine.connect("error", self._on_error)

    def _on_finished(self, completed: bool = True, **_told: object) -> None:
        if not completed:  # on a thread of the library
            self._problem = "the phrase was broken off"
        self._finished.set()

    def _on_error(self, exception: BaseException, **_told: object) -> None:
        self._problem = str(exception)
        self._finished.set()

    def _settle(self, deadline: float) -> None:
        """Wait until eSpeak's own thread is idle.

        `runAndWait` begins by cancelling whatever that thread is at. That threw away a rate that
        had just been set, so that every rate sounded the same; and when it met the end of what was
        before, about one phrase in a hundred was broken off or never finished (seen with pyttsx3
        2.99 and eSpeak NG 1.52).
        """
        while self._espeak is not None and self._espeak.IsPlaying():
            if time.monotonic() > deadline:
                raise RuntimeError("eSpeak does not come to rest")
            time.sleep(0.001)

    def describe(self) -> dict[str, object]:
        """Return the driver's name, the id of its default voice, and all voices."""
        voices = [
            {"id": voice.id, "name": voice.name, "language": _language(voice.languages)}
            for voice in self._engine.getProperty("voices")
        ]
        default = self._engine.getProperty("voice")
        return {"driver": self._engine.driver_name, "default": default, "voices": voices}

    def save(self, request: Mapping[str, Any]) -> None:
        """Render one phrase into `request["file"]`; return when that file is complete.

        Raises:
            RuntimeError: the library reported an error, or the file was not complete in time.
        """
        deadline = time.monotonic() + request["patience_s"]
        self._problem = ""
        self._finished.clear()
        for name in ("voice", "rate"):  # the voice first: setting it resets the rate on macOS
            self._engine.setProperty(name, request[name])
        self._settle(deadline)
        self._engine.save_to_file(request["text"], request["file"])
        self._engine.runAndWait()
        if self._engine.driver_name not in _SILENT_DRIVERS:
            self._finished.wait(max(0.0, deadline - time.monotonic()))
        self._settle(deadline)
        if self._problem:
            raise RuntimeError(self._problem)
        file = Path(request["file"])
        while not complete(file):
            if time.monotonic() > deadline:
                raise RuntimeError(f"no complete sound file after {request['patience_s']:g} s")
            time.sleep(0.005)


def complete(file: Path) -> bool:
    """Whether a WAV or AIFF file is as long as its own header says, and holds sound.

    Both begin with four letters and the count of the bytes that follow: little-endian after
    "RIFF" (Multimedia Programming Interface and Data Specifications 1.0, 1991), big-endian after
    "FORM" (EA IFF 85).
    """
    try:
        with file.open("rb") as opened:
            head = opened.read(8)
            size = opened.seek(0, os.SEEK_END)
    except OSError:
        return False
    order = {b"RIFF": "little", b"FORM": "big"}.get(head[:4])
    if order is None or size <= _NEEDED:
        return False
    following = int.from_bytes(head[4:], "little" if order == "little" else "big")
    return following > _NEEDED - 8 and 8 + following <= size


def _language(languages: object) -> str:
    """Return a voice's first language as a lower-case tag, such as "en-us"."""
    first = languages[0] if isinstance(languages, list | tuple) and languages else languages
    if isinstance(first, bytes):  # older drivers
        first = first.decode("ascii", "ignore").strip("\x00\x05")
    return str(first or "").replace("_", "-").lower()


def _prefer_packaged_espeak() -> None:
    """On Linux, load eSpeak NG from its Python package, so that nothing need be installed.

    pyttsx3 asks the loader for "libespeak-ng.so.1"; a library of that name which is loaded already
    is the one it gets. Without the package, the system's own library is left to be found.
    """
    if not sys.platform.startswith("linux"):
        return
    import ctypes  # noqa: PLC0415 - needed on Linux only

    try:
        import espeakng_loader  # noqa: PLC0415 - a dependency on Linux only
    except ImportError:
        return
    ctypes.CDLL(espeakng_loader.get_library_path(), mode=ctypes.RTLD_GLOBAL)
    # A relative path, because eSpeak NG cuts long ones off (seen at 230 characters) and then ends.
    data = Path(espeakng_loader.get_data_path())
    os.chdir(data.parent)
    os.environ["ESPEAK_DATA_PATH"] = data.name


def _private_output() -> TextIO:
    """Return a stream to our parent that nothing else writes to; join standard output to error."""
    answers = os.fdopen(os.dup(1), "w", encoding="utf-8", buffering=1)
    os.dup2(2, 1)
    return answers


def _end_at_lost_errors() -> None:
    """End at once when an error is lost inside a callback of the library, a full disk for example.

    The library would wait for ever for a phrase that is not coming; our parent sees the end of
    this process without waiting, and the error as its last words.
    """
    say = sys.unraisablehook

    def end(lost: sys.UnraisableHookArgs) -> None:
        say(lost)
        sys.stderr.flush()
        os._exit(3)

    sys.unraisablehook = end


def main() -> int:
    """Answer requests until standard input ends."""
    answers = _private_output()
    _end_at_lost_errors()

    def tell(answer: Mapping[str, object]) -> None:
        answers.write(json.dumps(answer) + "\n")
        answers.flush()

    try:
        voice = Voice()
        tell({"ready": voice.describe()})
    except Exception as problem:  # noqa: BLE001 - whatever a speech library raises, the parent is told
        tell({"error": f"{type(problem).__name__}: {problem}"})
        return 1
    for line in sys.stdin:
        request = json.loads(line)
        try:
            voice.save(request)
        except Exception as problem:  # noqa: BLE001 - as above
            tell({"id": request["id"], "error": f"{type(problem).__name__}: {problem}"})
        else:
            tell({"id": request["id"]})
    return 0


if __name__ == "__main__":
    sys.exit(main())
