"""`gloveson`: arguments in, exit codes out. 0 done, 1 not all right, 2 bad usage or bad input."""

from __future__ import annotations

import argparse
import logging
import sys
from collections.abc import Callable, Sequence
from typing import NoReturn

from assistant import __version__
from assistant.cli import (
    audit,
    check,
    enroll,
    forward,
    jobs,
    key,
    model,
    new,
    notice,
    record,
    rehear,
    rehearse,
    resume,
    retain,
    say,
    soundcheck,
    start,
    store,
    tray,
    trial,
)
from assistant.cli.output import ALL_RIGHT, BAD_INPUT, NOT_ALL_RIGHT, complain, harmless
from assistant.errors import BadInput, GlovesOnError

Command = Callable[[argparse.Namespace], int]
_COMMANDS = (
    rehearse,
    start,
    resume,
    new,
    notice,
    check,
    say,
    tray,
    soundcheck,
    enroll,
    record,
    jobs,
    forward,
    store,
    audit,
    retain,
    rehear,
    trial,
    model,
    key,
)


class _Parser(argparse.ArgumentParser):
    """Repeats what was given only as a terminal may show it."""

    def error(self, message: str) -> NoReturn:
        """Usage, what is wrong, and exit code 2."""
        super().error(harmless(message))


def parser() -> argparse.ArgumentParser:
    """The whole command line."""
    top = _Parser(
        prog="gloveson",
        description="An offline, hands-free shop assistant: it reads a checklist aloud, hears "
        "short commands, and keeps the record.",
    )
    top.add_argument("--version", action="version", version=f"gloveson {__version__}")
    commands = top.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for command in _COMMANDS:
        command.add_to(commands)
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command.

    Returns:
        The exit code: 0 done, 1 the thing asked about is not all right, 2 bad usage or input.
    """
    # What the person must know is said by the commands; library chatter is not for them.
    logging.getLogger("assistant").setLevel(logging.ERROR)
    command = parser()
    for text in sys.argv[1:] if argv is None else argv:
        if text.startswith("--") and text.endswith("=--"):  # comes as a list in older Pythons
            command.error(f"{text}: -- can't be a value")
    given = command.parse_args(argv)
    run: Command = given.run
    try:
        return run(given)
    except BadInput as problem:
        complain(str(problem))
        return BAD_INPUT
    except GlovesOnError as problem:
        complain(str(problem))
        return NOT_ALL_RIGHT
    except BrokenPipeError:
        sys.stderr.close()  # whoever read our output has gone; there is nobody left to tell
        return ALL_RIGHT
    except KeyboardInterrupt:
        complain("stopped")
        return NOT_ALL_RIGHT


if __name__ == "__main__":
    sys.exit(main())
