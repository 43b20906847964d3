"""Where text goes: people's text to stderr, results to stdout, one JSON object with --json."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterable, Mapping
from textwrap import indent
from typing import Final

ALL_RIGHT: Final = 0
NOT_ALL_RIGHT: Final = 1
BAD_INPUT: Final = 2


_LONGEST_LINE: Final = 2_000


def harmless(text: str) -> str:
    """Without anything that a terminal would obey, or that turns the order of what is read.

    A line is cut where nobody would read on: a name in a record may be megabytes.
    """
    lines = (
        line if len(line) <= _LONGEST_LINE else f"{line[:_LONGEST_LINE]}…"
        for line in text.split("\n")
    )
    return "".join(
        sign if sign.isprintable() or sign in "\n\t" else "?" for sign in "\n".join(lines)
    )


def tell(text: str) -> None:
    """A line for the person who watches."""
    sys.stderr.write(f"{harmless(text)}\n")
    sys.stderr.flush()


def complain(text: str) -> None:
    """A message about what went wrong."""
    tell(f"gloveson: {text}")


def answer(text: str) -> None:
    """A line of the result."""
    sys.stdout.write(f"{harmless(text)}\n")


def flush() -> None:
    """Let a reader at the other end of a pipe have what was answered so far."""
    sys.stdout.flush()


def answer_json(value: object) -> None:
    """The result as one JSON value; what a terminal would obey is escaped as JSON may."""
    sys.stdout.write(_json_text(value) + "\n")


def answer_json_with(value: Mapping[str, object], name: str, rows: Iterable[object]) -> None:
    """As `answer_json`, with a last key whose rows are written as they come, one in memory.

    Args:
        value: the other keys; not empty.
        name: the last key.
        rows: what stands in its list.
    """
    sys.stdout.write(f"{_json_text(value)[:-2]},\n  {json.dumps(name)}: [")
    between = "\n"
    for row in rows:
        sys.stdout.write(between + indent(_json_text(row), "    "))
        between = ",\n"
    sys.stdout.write("\n  ]\n}\n")


def _json_text(value: object) -> str:
    text = json.dumps(value, ensure_ascii=False, indent=2)
    return "".join(s if s.isprintable() or s == "\n" else json.dumps(s)[1:-1] for s in text)


def add_options(command: argparse.ArgumentParser) -> None:
    """`--option NAME=VALUE`, as often as wanted."""
    command.add_argument(
        "--option",
        action="append",
        default=[],
        metavar="NAME=VALUE",
        help="a fact about this vehicle that the checklist asks for: abs=yes",
    )
