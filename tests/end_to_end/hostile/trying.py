"""One command run on one hostile input, in a process of its own, and what counts as a fault.

A try may end with exit code 0 (taken, and without harm), 1 or 2 (refused, with a message). A fault
is: a traceback, a warning of Python's, a crash or a hang; no message with a refusal, or one that
does not name the file (and the line, where one is to blame); a sign that a terminal would obey;
a file anywhere but in the intended folder; too much time or memory.
"""

from __future__ import annotations

import os
import re
import resource
import signal
import sys
import tempfile
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from io import FileIO, TextIOWrapper
from pathlib import Path

from assistant.cli.main import main

MOST_CPU_S = 20.0
"""Processor time of one try. Loading a recognizer takes up to 3 s, all else far under 1 s."""
MOST_WALL_S = 60
MOST_MIB = 1024
"""Memory of one try, the recognizers' 250 MiB and the parent's own among it."""
MOST_PRINTED = 30_000
"""Signs that one try may print: a hostile text is not poured over the screen."""

ESCAPES = "\x1b[2J\x1b]0;owned\x07\x9b31m\u202e\u200b"
"""Signs that clear a screen, rename a window, color, turn the reading order, and hide."""


@dataclass(frozen=True, slots=True)
class Tried:
    """One input and what came of it.

    Attributes:
        kind: which row of the table.
        what: the input, in a few words.
        command: that it was given to.
        code: exit code; negative for a signal.
        faults: in plain words.
        taken: whether the input was taken: exit code 0, or a job that was begun and can go on.
        said: how the message begins.
        cpu_s: processor time.
        mib: the most memory it had.
    """

    kind: str
    what: str
    command: str
    code: int
    faults: tuple[str, ...]
    taken: bool
    said: str
    cpu_s: float
    mib: float


@dataclass(frozen=True, slots=True)
class Seen:
    """What a command printed and how it ended."""

    out: str
    err: str
    code: int


Look = Callable[[Seen], Sequence[str]]
"""A further look at what came out; gives faults in plain words."""


class Bench:
    """A shop of its own, three folders deep, so that a path that climbs out still is caught.

    Attributes:
        outer: everything that may be written; what lies outside of `into` is a fault.
        home: the shop's folder, $GLOVESON_HOME.
        work: where commands run.
    """

    def __init__(self, outer: Path) -> None:
        self.outer = outer
        self.home = outer / "one" / "two" / "shop"
        self.work = outer / "one" / "work"
        self.home.mkdir(parents=True)
        self.work.mkdir(parents=True)

    def run(
        self,
        kind: str,
        what: str,
        command: Sequence[str],
        *,
        names: str = "",
        typed: bytes = b"",
        into: Sequence[Path] = (),
        before: Callable[[], None] | None = None,
        look: Look | None = None,
    ) -> Tried:
        """Run a command.

        Args:
            kind: of the input.
            what: the input.
            command: arguments of `gloveson`.
            names: a pattern that the message of a refusal must hold: the file, and the line.
            typed: what comes in on stdin.
            into: where something may be written; the whole shop if left out.
            before: done in the command's own process first.
            look: a further look at what came out.
        """
        allowed = tuple(into) or (self.home,)
        there = self._files(allowed)
        with tempfile.TemporaryFile() as out, tempfile.TemporaryFile() as err:
            child = os.fork()
            if child == 0:
                self._be(command, typed, before, out.fileno(), err.fileno())
            _, status, used = os.wait4(child, 0)
            seen = Seen(_text(out), _text(err), os.waitstatus_to_exitcode(status))
        cpu_s, mib = used.ru_utime + used.ru_stime, used.ru_maxrss / 1024
        data = "--json" in command or "--csv" in command
        faults = [*faults_of(seen, names, data=data)]
        if cpu_s > MOST_CPU_S:
            faults.append(f"{cpu_s:.0f} s of processor time")
        if mib > MOST_MIB:
            faults.append(f"{mib:.0f} MiB of memory")
        written = sorted(self._files(allowed) ^ there)
        faults += [f"written: {name}" for name, *_ in written[:3]]
        if look is not None:
            faults += look(seen)
        shown = " ".join(command[:2])
        said = " ".join((seen.err or seen.out).split())[:160]
        return Tried(kind, what, shown, seen.code, tuple(faults), taken(seen), said, cpu_s, mib)

    def _be(
        self,
        command: Sequence[str],
        typed: bytes,
        before: Callable[[], None] | None,
        out: int,
        err: int,
    ) -> None:
        """Become the command; never returns."""
        code = 70
        try:
            signal.alarm(MOST_WALL_S)  # whoever hangs is ended by it
            resource.setrlimit(resource.RLIMIT_AS, (4 * MOST_MIB << 20,) * 2)
            with tempfile.TemporaryFile() as given:
                given.write(typed)
                given.seek(0)
                os.dup2(given.fileno(), 0)
            os.dup2(out, 1)
            os.dup2(err, 2)
            sys.stdin = TextIOWrapper(FileIO(0, closefd=False), encoding="utf-8")
            sys.stdout = TextIOWrapper(FileIO(1, "w", closefd=False), encoding="utf-8")
            sys.stderr = TextIOWrapper(
                FileIO(2, "w", closefd=False), encoding="utf-8", errors="backslashreplace"
            )
            os.environ["GLOVESON_HOME"] = str(self.home)
            os.chdir(self.work)
            if before is not None:
                before()
            code = main(list(command))
        except SystemExit as left:  # argparse
            code = left.code if isinstance(left.code, int) else 2
        except BaseException:  # noqa: BLE001 - this is what is looked for
            traceback.print_exc()
        finally:
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(code & 0xFF)

    def _files(self, allowed: Sequence[Path]) -> set[tuple[str, int, int]]:
        """Name, size and time of everything outside of the intended folders."""
        found: set[tuple[str, int, int]] = set()
        waiting = [self.outer]
        while waiting:
            for path in waiting.pop().iterdir():
                if path in allowed:
                    continue
                if path.is_dir() and not path.is_symlink():
                    waiting.append(path)
                status = path.lstat()
                size, when = (0, 0) if path.is_dir() else (status.st_size, status.st_mtime_ns)
                found.add((str(path.relative_to(self.outer)), size, when))
        return found


def taken(seen: Seen) -> bool:
    """Whether the input was taken: a job by keys without keys is begun, and waits to go on."""
    return seen.code == 0 or (seen.code == 1 and "Go on with: gloveson resume" in seen.err)


def faults_of(seen: Seen, names: str = "", *, data: bool = False) -> list[str]:
    """What is wrong with how a command ended and what it printed.

    Args:
        seen: what came out.
        names: a pattern that a refusal must hold.
        data: whether it was asked for all of the data, for a program.
    """
    printed = seen.out + seen.err
    faults = []
    if "Traceback" in seen.err:
        faults.append(f"traceback: {seen.err.strip().splitlines()[-1][:120]}")
    lines = [line for line in seen.err.splitlines() if "resource_tracker" not in line]
    if any("Warning:" in line for line in lines):  # but for the locks of a child that is forked
        faults.append("a warning of Python's")
    if seen.code not in {0, 1, 2}:
        faults.append(f"exit code {seen.code}")
    if signs := sorted({s for s in printed if not s.isprintable() and s not in "\n\t\r"}):
        faults.append(f"printed {signs!a}")
    if len(printed) > MOST_PRINTED and not data:
        faults.append(f"printed {len(printed)} signs")
    if seen.code == 2 and not seen.err.strip():
        faults.append("refused without a message")
    if not taken(seen) and names and not re.search(names, printed):
        faults.append(f"the message does not name {names}: {printed[:120]!a}")
    return faults


def _text(file: object) -> str:
    assert hasattr(file, "seek")
    assert hasattr(file, "read")
    file.seek(0)
    return str(file.read().decode("utf-8", "replace"))
