"""Figures of the spoken record: `python -m tests.report.bench_spoken [QUESTIONS...]`.

For each number a job is written in which "what torque" is asked so often, and the spoken record
is made in a process of its own. Printed: entries, length and size of the sound, seconds of work,
and the most memory that the process held.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from assistant.report.spoken import make_spoken
from assistant.speaking.renderer import Renderer
from tests.job.bench import Bench
from tests.report.spoken_jobs import written


def measure(folder: Path) -> str:
    """Make one spoken record in this process; the line of the table."""
    began = time.monotonic()
    with Renderer() as voice, tempfile.TemporaryDirectory() as out:
        spoken = make_spoken(folder, Path(out), voice)
        size = spoken.sound.stat().st_size / 1e6
    took = time.monotonic() - began
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    entries, minutes = len(spoken.placed), spoken.seconds / 60
    return f"{entries:>9} {minutes:>9.1f} {size:>9.1f} {took:>9.1f} {peak:>9.0f}"


def main(questions: list[int]) -> None:
    """Print the table."""
    sys.stdout.write("  entries   minutes        MB   seconds   MB held\n")
    for many in questions:
        with tempfile.TemporaryDirectory() as place:
            bench = Bench()
            bench.answer()
            for _ in range(many):
                bench.hear("what_torque")
            folder = written(Path(place), bench.events)
            command = [sys.executable, "-m", "tests.report.bench_spoken", str(folder)]
            sys.stdout.write(
                subprocess.run(command, check=True, capture_output=True, text=True).stdout
            )
            sys.stdout.flush()


if __name__ == "__main__":
    given = sys.argv[1:]
    if len(given) == 1 and Path(given[0]).is_dir():
        sys.stdout.write(measure(Path(given[0])) + "\n")
    else:
        main([int(one) for one in given] or [100, 1000, 5000])
