"""Arguments in, exit codes out: usage, errors, and what goes to which stream."""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
from pathlib import Path

import pytest

from assistant import __version__
from assistant.cli import main as program
from assistant.cli.main import main, parser
from assistant.errors import BadInput, JournalUnwritable

COMMANDS = ("rehearse", "start", "resume", "check", "record", "audit", "model")


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    """`--help` of a command says what it does and ends with 0."""
    with pytest.raises(SystemExit) as ended:
        main([command, "--help"])
    assert ended.value.code == 0
    assert f"gloveson {command}" in capsys.readouterr().out


def test_version(capsys: pytest.CaptureFixture[str]) -> None:
    """`--version` prints the version of the package."""
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert capsys.readouterr().out == f"gloveson {__version__}\n"


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["fly"],
        ["start", "clutch-cable-adjustment"],
        ["check"],
        ["rehearse", "--noise", "thunder", "--snr", "5"],
        ["rehearse", "--snr", "loud"],
        ["model"],
    ],
)
def test_bad_usage_is_two(arguments: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    """Bad usage ends with 2, with the usage on stderr and nothing on stdout."""
    with pytest.raises(SystemExit) as ended:
        main(arguments)
    assert ended.value.code == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert "usage: gloveson" in told.err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["rehearse", "no-such-checklist"], "raised-handlebar"),
        (["rehearse", "--noise", "pink"], "--snr"),
        (["rehearse", "--noise", "pink", "--snr", "nan"], "-20 to 60"),
        (["rehearse", "--noise", "pink", "--snr", "900"], "-20 to 60"),
        (["rehearse", "--engine", "abacus"], "pocketsphinx"),
        (["rehearse", "--option", "abs"], "abs"),
        (["rehearse", "--option", "abs=maybe"], "maybe"),
        (["rehearse", "--option", "wings=yes"], "wings"),
        (["audit", "no-such-job"], "no-such-job"),
        (["record", "no-such-job"], "no-such-job"),
        (["resume", "no-such-job", "--typed"], "no-such-job"),
        (["start", "raised-handlebar", "--who", "Mara", "--typed"], "--second"),
        (["start", "raised-handlebar", "--who", "Mara", "--second", "MARA"], "second person"),
        (["start", "tests/checklist/data/ten_mistakes.yaml", "--who", "Mara"], "ten_mistakes"),
        (["model", "get", "no-such-model"], "no-such-model"),
    ],
)
def test_bad_input_is_two(
    arguments: list[str],
    said: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Bad input ends with 2 and one message that names it; no job is made."""
    monkeypatch.setenv("GLOVESON_HOME", str(tmp_path))
    monkeypatch.chdir(Path(__file__).parents[2])
    assert main(arguments) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith("gloveson: ")
    assert said in told.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("problem", "code", "said"),
    [
        (BadInput("no such thing"), 2, "no such thing"),
        (JournalUnwritable("disk full"), 1, "disk full"),
        (KeyboardInterrupt(), 1, "stopped"),
    ],
)
def test_errors_become_codes(
    problem: BaseException,
    code: int,
    said: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    """Our own errors become a message and a code: 2 for bad input, 1 for what isn't right."""

    def run(_given: argparse.Namespace) -> int:
        raise problem

    def parse() -> argparse.ArgumentParser:
        made = argparse.ArgumentParser()
        made.set_defaults(run=run)
        return made

    monkeypatch.setattr(program, "parser", parse)
    assert main([]) == code
    assert capsys.readouterr().err == f"gloveson: {said}\n"


def test_a_reader_that_has_gone_is_no_error() -> None:
    """`gloveson model list | head -0` ends without a traceback."""
    read, write = os.pipe()
    os.close(read)
    with os.fdopen(write, "wb") as gone:
        ran = subprocess.run(
            [sys.executable, "-m", "assistant.cli.main", "check", "clutch-cable-adjustment"],
            stdout=gone,
            stderr=subprocess.PIPE,
            cwd=Path(__file__).parents[2],
            text=True,
            check=False,
            timeout=60,
        )
    assert "Traceback" not in ran.stderr
    assert "Exception" not in ran.stderr


def test_help_needs_no_audio_library() -> None:
    """The command line comes up without loading sound, recognisers or arrays."""
    code = (
        "import sys; from assistant.cli.main import parser; parser();"
        "print(sorted({'sounddevice', 'numpy', 'pocketsphinx', 'vosk', 'soundfile'}"
        " & sys.modules.keys()))"
    )
    ran = subprocess.run(
        [sys.executable, "-c", code],
        cwd=Path(__file__).parents[2],
        capture_output=True,
        text=True,
        check=True,
        timeout=60,
    )
    assert ran.stdout == "[]\n"


def test_the_commands_are_those_of_the_product() -> None:
    """All commands that this version promises are there."""
    usage = parser().format_help()
    assert all(command in usage for command in COMMANDS)


def test_what_is_wrong_is_told_harmlessly(capsys: pytest.CaptureFixture[str]) -> None:
    """The command line's own errors repeat what was given without what a terminal would obey."""
    for line in (["audit", "one", "\x1b[2J"], ["notice", "--language=--"], ["\x1b]0;owned\x07"]):
        with pytest.raises(SystemExit) as left:
            main(line)
        assert left.value.code == 2
        told = capsys.readouterr().err
        assert told
        assert all(sign.isprintable() or sign == "\n" for sign in told)
