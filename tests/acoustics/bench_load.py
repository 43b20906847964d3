"""Prints the load time and memory of the shipped model in a process of its own.

python -m tests.acoustics.bench_load
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time
from importlib.resources import files

from assistant.engines import SHIPPED_MODEL


def _peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _measure(folder: str) -> None:
    import vosk  # noqa: PLC0415 - its memory is measured apart

    vosk.SetLogLevel(-1)
    before = _peak_mb()
    wall, cpu = time.perf_counter(), time.process_time()
    model = vosk.Model(folder)
    wall, cpu = time.perf_counter() - wall, time.process_time() - cpu
    sys.stdout.write(
        f"load {wall:.3f} s ({cpu:.3f} s of CPU), peak {before:.0f} MB before, "
        f"{_peak_mb():.0f} MB with the model\n"
    )
    del model


if __name__ == "__main__":
    if len(sys.argv) > 1:
        _measure(sys.argv[1])
    else:
        place = str(files("assistant.hearing").joinpath("data/models", SHIPPED_MODEL))
        for _ in range(3):
            subprocess.run([sys.executable, "-m", "tests.acoustics.bench_load", place], check=True)
