"""Our side of the voice's child process: starting it, asking it, and knowing when it is no more.

Not thread-safe: the renderer's one worker thread owns it; only `kill` may come from any thread.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import subprocess
import sys
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from assistant.speaking import voice_child

_SCRIPT = Path(voice_child.__file__)
_LAST_WORDS = 2_000  # bytes of the child's standard error that a message may hold


class VoiceFailed(Exception):  # noqa: N818 - reads as what it is
    """The child ended, hung, or reported an error: kill it, start another, try again."""


@dataclass(frozen=True, slots=True)
class Voice:
    """A voice of this machine.

    Attributes:
        id: the driver's own name of it, for example "gmw/en-us".
        name: a name for people, for example "English (America)".
        language: lower-case language tag, for example "en-us"; "" when the driver doesn't say.
    """

    id: str
    name: str
    language: str


class VoiceProcess:
    """One running child.

    Attributes:
        pid: its process number.
        driver: name of the pyttsx3 driver that it uses.
        default: id of the voice that the driver starts with, or "".
        voices: every voice it has.

    Raises:
        VoiceFailed: it did not get ready within `patience_s`; holds its last words.
    """

    def __init__(self, folder: Path, patience_s: float) -> None:
        self._asked = 0
        self._errors = tempfile.TemporaryFile(dir=folder)  # noqa: SIM115 - closed by `close`
        self._process = subprocess.Popen(  # noqa: S603 - our own script, no input of anyone's
            [sys.executable, "-P", str(_SCRIPT)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._errors,
            encoding="utf-8",
            env=os.environ | {"PYTHONUTF8": "1"},
            # An interrupt typed at the terminal is for us: the voice may still be needed to say so.
            start_new_session=True,
        )
        self._answers: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self.pid = self._process.pid
        self._reader = threading.Thread(
            target=_read, args=(self._process.stdout, self._answers), daemon=True
        )
        self._reader.start()
        try:
            ready = self._answer(patience_s)["ready"]
        except VoiceFailed:
            self.close()
            raise
        self.driver: str = ready["driver"]
        self.default: str = ready["default"] or ""
        self.voices = tuple(Voice(**voice) for voice in ready["voices"])

    def save(self, text: str, voice: str, rate: int, file: Path, patience_s: float) -> None:
        """Have one phrase rendered into a new file; return when the file is complete.

        Args:
            text: what to say.
            voice: id of one of `voices`.
            rate: words per minute.
            file: where to; must not exist.
            patience_s: how long to wait.

        Raises:
            VoiceFailed: it ended, gave no answer in time, or reported an error.
        """
        self._asked += 1
        request = {"id": self._asked, "text": text, "voice": voice, "rate": rate}
        request |= {"file": str(file), "patience_s": patience_s}
        assert self._process.stdin is not None  # noqa: S101 - for the type checker: it is a pipe
        try:
            self._process.stdin.write(json.dumps(request) + "\n")
            self._process.stdin.flush()
        except OSError as problem:
            raise VoiceFailed(self._ended()) from problem
        answer = self._answer(patience_s + 0.5)
        if answer.get("id") != self._asked:
            raise VoiceFailed(f"the voice answered something else: {answer}")

    def _answer(self, patience_s: float) -> dict[str, Any]:
        try:
            line = self._answers.get(timeout=patience_s)
        except queue.Empty:
            raise VoiceFailed(f"the voice gave no answer within {patience_s:g} s") from None
        if line is None:
            raise VoiceFailed(self._ended())
        try:
            answer: dict[str, Any] = json.loads(line)
        except ValueError as problem:
            raise VoiceFailed(f"the voice answered {line!r}") from problem
        if "error" in answer:
            raise VoiceFailed(answer["error"])
        return answer

    def _ended(self) -> str:
        """Say how the child ended, with the last of what it wrote to standard error."""
        with contextlib.suppress(subprocess.TimeoutExpired):
            self._process.wait(1.0)
        size = self._errors.seek(0, os.SEEK_END)
        self._errors.seek(max(0, size - _LAST_WORDS))
        words = self._errors.read().decode(errors="replace").strip()
        said = f": {words}" if words else ""
        return f"the voice process ended with status {self._process.returncode}{said}"

    def kill(self) -> None:
        """End the child at once (also one that is stopped); any thread may call it."""
        self._process.kill()

    def close(self) -> None:
        """End the child and give back its pipes."""
        self.kill()
        self._process.wait()
        self._reader.join()
        for pipe in (self._process.stdin, self._process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):  # unsent bytes for a child that has ended
                    pipe.close()
        self._errors.close()


def _read(lines: IO[str] | None, answers: queue.SimpleQueue[str | None]) -> None:
    """Hand on the child's lines, then None when it has ended."""
    assert lines is not None  # noqa: S101 - for the type checker: it is a pipe
    with contextlib.suppress(ValueError):  # not UTF-8: the same as no answer
        for line in lines:
            answers.put(line)
    answers.put(None)


def find_voice(process: VoiceProcess, wanted: str) -> Voice | None:
    """Return the voice of this id, name or language; None when there is none.

    Among several of one language the driver's default comes first; "en" also finds "en-us".
    """
    wanted = wanted.replace("_", "-").lower()
    ordered = sorted(process.voices, key=lambda voice: voice.id != process.default)
    tests = (
        lambda voice: wanted in {voice.id.replace("_", "-").lower(), voice.name.lower()},
        lambda voice: voice.language == wanted,
        lambda voice: voice.language.startswith(f"{wanted}-"),
    )
    return next((voice for test in tests for voice in ordered if test(voice)), None)
