"""The list of hostile inputs: `python -m tests.end_to_end.hostile [--list] [KIND ...]`.

Prints a table by kind, fit for the docs; with --list every try. Exit code 1 when one misbehaved.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from collections.abc import Callable, Iterator, Sequence
from importlib import import_module
from itertools import groupby
from pathlib import Path

from tests.end_to_end.hostile import files, folders, journals, models, returning, sounds
from tests.end_to_end.hostile.trying import Bench, Tried

SETS: dict[str, Callable[[Bench], Iterator[Tried]]] = {
    "files": files.tries,
    "journals": journals.tries,
    "archives": models.archive_tries,
    "models": models.tries,
    "sounds": sounds.tries,
    "folders": folders.tries,
    "returning": returning.tries,
}


def run_all(sets: Sequence[str]) -> list[Tried]:
    """All tries of these sets, each set in a shop of its own."""
    found: list[Tried] = []
    for name in sets:
        with tempfile.TemporaryDirectory() as outer:
            found += SETS[name](Bench(Path(outer)))
    return found


def table(tried: Sequence[Tried]) -> Iterator[str]:
    """By kind: what was tried, how many times, and what came of it."""
    yield "| kind | what was tried | tries | refused | taken, no harm | misbehaved | most s, MiB |"
    yield "|---|---|---|---|---|---|---|"
    for kind, rows in groupby(sorted(tried, key=lambda one: one.kind), key=lambda one: one.kind):
        these = list(rows)
        whats = ", ".join(dict.fromkeys(one.what.replace("|", r"\|") for one in these))
        bad = sum(bool(one.faults) for one in these)
        refused = sum(not one.taken and not one.faults for one in these)
        most = f"{max(one.cpu_s for one in these):.1f}, {max(one.mib for one in these):.0f}"
        counts = f"{len(these)} | {refused} | {len(these) - refused - bad} | {bad}"
        yield f"| {kind} | {whats} | {counts} | {most} |"


def main() -> int:
    """Run, print."""
    for library in ("assistant.accounts", "assistant.store.search", "numpy", "soundfile"):
        import_module(library)  # once here, and not once a try
    command = argparse.ArgumentParser(description=__doc__)
    command.add_argument("sets", nargs="*", metavar="SET", help=f"of {', '.join(SETS)}; all")
    command.add_argument("--list", action="store_true", help="every try")
    given = command.parse_args()
    tried = run_all(given.sets or list(SETS))
    bad = [one for one in tried if one.faults]
    for one in tried if given.list else bad:
        took = f"{one.cpu_s:.1f} s, {one.mib:.0f} MiB"
        end = f"{one.code} | {'; '.join(one.faults) or 'ok'} | {took} | {one.said!a}"
        print(f"| {one.kind} | {one.what} | {one.command!a} | {end} |")  # noqa: T201
    for line in table(tried):
        print(line)  # noqa: T201
    print(f"{len(tried)} tried, {len(bad)} misbehaved")  # noqa: T201
    return 1 if bad else 0


if __name__ == "__main__":
    os.environ["OPENBLAS_NUM_THREADS"] = "1"  # threads and forks don't go together
    sys.exit(main())
