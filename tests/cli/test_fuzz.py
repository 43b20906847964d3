"""Random command lines and random typed lines: an exit code, a message, and nothing else.

A few examples by default; many with GLOVESON_LONG=1.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import os
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from assistant.cli.main import main, parser
from assistant.packaged import phrasebook
from assistant.record.audit import audit

LONG = os.environ.get("GLOVESON_LONG") == "1"
EXAMPLES = 4_000 if LONG else 40
JOBS = 300 if LONG else 6

PLACES = ["..", ".", "", "~nobody/x", "a/b", "file:///x", "\\\\server\\x", "/dev/null", "x.yaml"]
"""Paths that are safe to write to, should one be taken: no more than that is wanted here."""
ODD = st.one_of(
    st.sampled_from([*PLACES, "\x1b[2J", "\u202ex", "\x00", "\udc80", "-", "--", "=1+1", "%s%n"]),
    st.sampled_from(["'; drop table job; --", "<script>", "{{7*7}}", "9" * 400, "x" * 5_000]),
    st.text(max_size=30),
    st.text(alphabet=st.characters(categories=["Cc", "Cf", "Cs", "Zl", "Zp", "Mn"]), max_size=20),
)
# These play a whole job, wait for a microphone or a network, or go on until Ctrl-C.
_LEFT_OUT = {"rehearse", "soundcheck", "--watch", "--cluster", "--store", "--fetch", "--new"}
_NO_FILES = {"--html", "--pdf", "--spoken", "--out", "--plots", "--lines", "--parquet"}
"""Options that name a file to be written; only a place of the test's own goes there."""


def _commands() -> dict[tuple[str, ...], argparse.ArgumentParser]:
    """Every command and action with its parser."""
    found: dict[tuple[str, ...], argparse.ArgumentParser] = {}
    waiting: list[tuple[tuple[str, ...], argparse.ArgumentParser]] = [((), parser())]
    while waiting:
        path, one = waiting.pop()
        inner = [a for a in one._actions if isinstance(a, argparse._SubParsersAction)]
        for action in inner:
            waiting.extend(((*path, name), made) for name, made in action.choices.items())
        if path and not inner and path[0] not in _LEFT_OUT:
            found[path] = one
    return found


COMMANDS = _commands()


@st.composite
def command_lines(draw: st.DrawFn) -> list[str]:
    """A command with some of its arguments, each of them odd."""
    path = draw(st.sampled_from(sorted(COMMANDS)))
    line = [*path]
    if path == ("start",):
        line.append("--typed")
    if path == ("enroll",):
        line.append(draw(st.sampled_from(["--list", "--remove", "--from=x.csv"])))
    for action in COMMANDS[path]._actions:
        names = action.option_strings
        if isinstance(action, argparse._HelpAction) or _LEFT_OUT & set(names):
            continue
        if not names:
            line += draw(st.lists(ODD, min_size=0, max_size=2))
        elif draw(st.booleans()):
            continue
        elif action.nargs == 0:
            line.append(names[-1])
        elif not _NO_FILES & set(names):
            line.append(f"{names[-1]}={draw(ODD)}")
        else:
            line.append(f"{names[-1]}={draw(st.sampled_from(['inner/x', 'x', '.', '']))}")
    return line


@contextlib.contextmanager
def shop(typed: str = "") -> Iterator[tuple[Path, io.StringIO]]:
    """A shop of its own three folders deep, with what is printed; other files are a fault."""
    before = Path.cwd(), os.environ.get("GLOVESON_HOME"), sys.stdin
    with tempfile.TemporaryDirectory() as outer:
        work = Path(outer) / "one" / "two" / "work"
        work.mkdir(parents=True)
        os.chdir(work)
        os.environ["GLOVESON_HOME"] = str(work / "home")
        sys.stdin = io.StringIO(typed)
        printed = io.StringIO()
        try:
            with contextlib.redirect_stdout(printed), contextlib.redirect_stderr(printed):
                yield work / "home", printed
            outside = [path for path in Path(outer).rglob("*") if not path.is_relative_to(work)]
            assert {path.name for path in outside} == {"one", "two"}
        finally:
            os.chdir(before[0])
            sys.stdin = before[2]
            os.environ.pop("GLOVESON_HOME")
            if before[1] is not None:
                os.environ["GLOVESON_HOME"] = before[1]


def run(line: list[str]) -> int:
    """Exit code of a command line."""
    try:
        return main(line)
    except SystemExit as left:  # argparse
        return left.code if isinstance(left.code, int) else -1


def signs(text: str) -> set[str]:
    """What a terminal would obey, or what would turn the order of what is read."""
    return {sign for sign in text if not sign.isprintable() and sign not in "\n\t\r"}


@settings(max_examples=EXAMPLES, deadline=None, suppress_health_check=list(HealthCheck))
@given(line=command_lines())
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_any_command_line_ends_in_an_exit_code(line: list[str]) -> None:
    """Whatever is written behind a command: 0, 1 or 2, a message, no sign that a screen obeys."""
    with shop() as (_, printed):
        code = run(line)
        told = printed.getvalue()
    assert code in {0, 1, 2}
    assert not signs(told)
    assert "Traceback" not in told
    assert code == 0 or told.strip()


def _phrases() -> list[str]:
    """What is taught, and the words of which phrases are made."""
    entries = phrasebook("en").intents.values()
    whole = [text for entry in entries for text in entry.phrases]
    return sorted({*whole, *(word for text in whole for word in text.split())})


_KEYS = ["affirm", "step complete", "+", "-", "?", ".", ",", "!", ""]
_SAID = st.sampled_from(_phrases())
TYPED = st.lists(
    st.one_of(ODD, st.sampled_from(_KEYS), _SAID, st.lists(_SAID, max_size=5).map(" ".join)),
    max_size=40,
)


@settings(max_examples=JOBS, deadline=None, suppress_health_check=list(HealthCheck))
@given(lines=TYPED)
@pytest.mark.filterwarnings("ignore::ResourceWarning")
def test_whatever_is_typed_leaves_a_record_that_verifies(lines: list[str]) -> None:
    """A job by keys takes any lines; it ends open or released, and its record is whole."""
    typed = "\n".join(lines).encode("utf-8", "replace").decode("utf-8")
    start = ["start", "clutch-cable-adjustment", "--typed", "--who", "Mara", "--job", "one"]
    with shop(typed + "\n") as (home, printed):
        code = run([*start, "--loudspeaker", "no such loudspeaker"])
        told = printed.getvalue()
        checked = audit(home / "jobs" / "one")
    assert code in {0, 1}
    assert not signs(told)
    assert checked.ok, checked.problem
    assert (code == 0) == bool(checked.seal)
