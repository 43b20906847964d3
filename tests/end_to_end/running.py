"""The program as a user runs it: a process with arguments, input, output and an exit code."""

from __future__ import annotations

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
PROGRAM = (sys.executable, "-m", "assistant.cli.main")
NO_LOUDSPEAKER = ("--loudspeaker", "no such loudspeaker")
"""Nobody wants to hear the tests; without it the screen does, as on a machine without sound."""


@dataclass(frozen=True, slots=True)
class Ran:
    """A command that has ended.

    Attributes:
        cpu_s: processor time that it and its children took.
    """

    code: int
    out: str
    err: str
    cpu_s: float = 0.0

    def json(self) -> Any:  # noqa: ANN401 - whatever the command printed
        """What stands on stdout, which must be one JSON value."""
        return json.loads(self.out)


def environment(home: Path) -> dict[str, str]:
    """This process's environment with another folder for jobs, models and caches."""
    return {**os.environ, "GLOVESON_HOME": str(home), "PYTHONPATH": str(ROOT)}


def gloveson(home: Path, *arguments: str, typed: str = "", timeout_s: float = 60.0) -> Ran:
    """Run a command to its end."""
    done = subprocess.run(
        [*PROGRAM, *arguments],
        input=typed,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=environment(home),
        cwd=home,
        timeout=timeout_s,
        check=False,
    )
    return Ran(done.returncode, done.stdout, done.stderr)


def gloveson_measured(home: Path, *arguments: str, timeout_s: float = 20.0) -> Ran:
    """Run a command and count its processor time, which waiting for others doesn't change."""
    child = subprocess.Popen(
        [*PROGRAM, *arguments],
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        env=environment(home),
        cwd=home,
    )
    watchdog = threading.Timer(timeout_s, child.kill)
    watchdog.start()
    assert child.stdout is not None
    assert child.stderr is not None
    parts: list[bytes] = [b"", b""]

    def drain(place: int, pipe: Any) -> None:  # noqa: ANN401 - a pipe of bytes
        parts[place] = pipe.read()

    readers = [
        threading.Thread(target=drain, args=pair)
        for pair in enumerate((child.stdout, child.stderr))
    ]
    for reader in readers:
        reader.start()
    _, status, used = os.wait4(child.pid, 0)
    child.returncode = os.waitstatus_to_exitcode(status)
    for reader in readers:
        reader.join()
    watchdog.cancel()
    child.stdout.close()
    child.stderr.close()
    out, err = (part.decode("utf-8", "replace") for part in parts)
    return Ran(child.returncode, out, err, used.ru_utime + used.ru_stime)


class Live:
    """A live job in a process of its own; lines go in by its keys, its screen is watched.

    Args:
        home: where it works.
        arguments: of the command.
        environment: of the process.
        under: a command line that starts it and looks on, strace's for example.

    Attributes:
        screen: every line it has shown so far, all of its lives together.
    """

    def __init__(
        self, home: Path, *arguments: str, environment: Mapping[str, str], under: Sequence[str] = ()
    ) -> None:
        self.screen: list[str] = []
        self.child = subprocess.Popen(
            [*under, *PROGRAM, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
            bufsize=1,
            env=environment,
            cwd=home,
        )
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        assert self.child.stderr is not None
        for line in self.child.stderr:
            self.screen.append(line.strip())

    def type(self, line: str) -> bool:
        """Type a line; False when the program is no longer there."""
        assert self.child.stdin is not None
        try:
            self.child.stdin.write(f"{line}\n")
            self.child.stdin.flush()
        except (BrokenPipeError, ValueError):
            return False
        return True

    def shows(self, text: str, *, after: int = 0, timeout_s: float = 30.0) -> bool:
        """Whether the screen shows this, in a line after the given one, within the time."""
        end = time.monotonic() + timeout_s
        while time.monotonic() < end:
            if any(text in line for line in self.screen[after:]):
                return True
            if self.child.poll() is not None and not self._reader.is_alive():
                return any(text in line for line in self.screen[after:])
            time.sleep(0.02)
        return False

    def kill(self) -> None:
        """As when the machine's power goes: no chance to tidy up."""
        self.child.kill()
        self._end()

    def interrupt(self, timeout_s: float = 20.0) -> int:
        """Ctrl-C; returns the exit code."""
        self.child.send_signal(signal.SIGINT)
        return self.wait(timeout_s)

    def wait(self, timeout_s: float = 20.0) -> int:
        """Wait for its end; returns the exit code."""
        try:
            self.child.wait(timeout_s)
        finally:
            if self.child.poll() is None:
                self.child.kill()
            self._end()
        return self.child.returncode

    def _end(self) -> None:
        self.child.wait(10)
        self._reader.join(10)
        assert self.child.stdin is not None
        assert self.child.stderr is not None
        with contextlib.suppress(BrokenPipeError):
            self.child.stdin.close()
        self.child.stderr.close()


@contextlib.contextmanager
def live(home: Path, *arguments: str, extra: Mapping[str, str] | None = None) -> Iterator[Live]:
    """A live job that is ended, whatever happens, when the block is left."""
    started = Live(home, *arguments, environment={**environment(home), **(extra or {})})
    try:
        yield started
    finally:
        if started.child.poll() is None:
            started.kill()
        elif started.child.stderr is not None and not started.child.stderr.closed:
            started.wait()
