"""What the default engine's parts take of memory, and what is heard with them; prints figures.

Run with: python -m tests.hearing.bench_memory [CLIPS]. Resident memory in 10**6 bytes, of which
"own" is not backed by a file; after each part is loaded, after each grammar of the phrasebook that
the first of the fixtures' tuning clips need, and the peak after so many clips (60 if left out).
"""

from __future__ import annotations

import csv
import gc
import importlib
import resource
import sys
from pathlib import Path

from tests.hearing.clips import FIXTURES


def resident() -> tuple[float, float]:
    """Resident memory, and the part of it that no file backs."""
    found = {}
    for line in Path("/proc/self/smaps_rollup").read_text("ascii").splitlines()[1:]:
        name, size, *_ = line.split()
        found[name] = int(size) * 1024 / 1e6
    return found["Rss:"], found["Anonymous:"]


class Told:
    """Prints how memory grew since it was last told."""

    def __init__(self) -> None:
        self._before = (0.0, 0.0)

    def __call__(self, what: str) -> None:
        """Print and remember."""
        gc.collect()
        now = resident()
        more, own = (a - b for a, b in zip(now, self._before, strict=True))
        sys.stdout.write(
            f"{what:46} {now[0]:7.1f} ({more:+6.1f})  own {now[1]:7.1f} ({own:+6.1f})\n"
        )
        self._before = now


def load(tell: Told) -> None:
    """Load the parts one by one, as a job does."""
    tell("python")
    for name in ("numpy", "assistant.hearing.ear", "vosk", "pocketsphinx"):
        importlib.import_module(name)
        tell(f"import {name}")
    activity = importlib.import_module("assistant.hearing.activity")
    activity.SileroDetector()(b"\1\2" * 512)
    tell("voice activity")
    engines = importlib.import_module("assistant.engines")
    vosk_engine = importlib.import_module("assistant.hearing.engines.vosk_engine")
    folder = engines._model_folder(engines.SHIPPED_MODEL)
    vosk_engine.load_model(folder.resolve())
    tell("the Vosk model")


def hear(tell: Told, clips: int) -> None:
    """Hear clips of the phrasebook, each against what a job admits when it is said."""
    from assistant.engines import open_engine  # noqa: PLC0415 - its memory is measured above
    from assistant.hearing.source import read_audio  # noqa: PLC0415 - as above
    from assistant.trial.manifest import Row  # noqa: PLC0415 - as above
    from assistant.trial.phrases import read_phrases  # noqa: PLC0415 - as above

    engine, phrases = open_engine("pair"), read_phrases(None, "en")
    tell("the pair, with PocketSphinx")
    with (FIXTURES / "manifest.csv").open(encoding="utf-8", newline="") as file:
        rows = [row for row in csv.DictReader(file) if row["split"] == "tuning"]
    # Wrenches are the shop's; none is in the phrasebook.
    wanted = {"command", "reading"}
    rows = [row for row in rows if row["kind"] in wanted and row["intent"] != "use_wrench"]
    met = set()
    for row in rows[:: max(1, len(rows) // clips)]:
        path = FIXTURES / row["file"]
        grammar, _ = phrases.meant(Row(path, row["kind"], row["transcript"], row["speaker"]))
        pcm = read_audio(path)
        engine.use(grammar)
        engine.start()
        engine.feed(pcm)
        engine.glance()
        engine.finish()
        if grammar.jsgf() not in met:
            met.add(grammar.jsgf())
            tell(f"grammar {len(met)}: {len(grammar.vosk_phrases())} entries, {row['transcript']}")
    tell(f"{len(rows[:: max(1, len(rows) // clips)])} clips")


def main() -> None:
    """Print memory part by part, and the peak."""
    tell = Told()
    load(tell)
    hear(tell, int(sys.argv[1]) if len(sys.argv) > 1 else 60)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024 / 1e6
    sys.stdout.write(f"peak {peak:.1f}\n")


if __name__ == "__main__":
    main()
