"""The whole way from recordings and synthesizers to a measured model folder.

python -m assistant.acoustics.recipe WORK [--speech FOLDER] [--clips MANIFEST] [options]

WORK may already hold the synthesizers' files (see `pack`); kinds that are missing are left out.
Every stage is a process of its own and is skipped when what it makes is already there. On one
accelerator the shipped model took 165 s of synthesis by 26 processes and 950 s of training.
"""

from __future__ import annotations

import argparse
import csv
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from assistant.acoustics.pack import pack_people, pack_words, stressed_dictionary, word_lists
from assistant.acoustics.vocabulary import common_words
from assistant.errors import BadInput

_COMMON: Final = ("american-words.10", "english-words.10", "american-words.20", "english-words.20")
_RARE: Final = tuple(
    f"{kind}-words.{size}" for kind in ("american", "english") for size in (35, 40, 50)
)
_NEEDS: Final = {
    "neural": "neural.onnx",
    "flite": "flite",
    "espeak": "espeak",
    "pico": "pico",
    "rhvoice": "rhvoice",
}


def _run(module: str, *arguments: object) -> list[str]:
    return [sys.executable, "-m", f"assistant.acoustics.{module}", *map(str, arguments)]


def _do(command: list[str]) -> None:
    if subprocess.run(command, check=False).returncode:  # noqa: S603 - our own modules
        raise BadInput(f"this stage failed: {' '.join(command)}")


def pack(
    work: Path, speech: Path | None, words: Path, fixtures: Path, clips: Path | None = None
) -> None:
    """Lay out words, clips and noise.

    Args:
        work: the folder to fill.
        speech: recordings, see `splits`.
        words: folder of SCOWL's lists (Debian package scowl: /usr/share/dict/scowl); where it
            isn't there the common words beside this module do.
        fixtures: the spoken clips whose transcripts are the phrases.
        clips: manifest of further recordings, a shop's own for example.

    Raises:
        BadInput: something can't be read.
    """
    known = stressed_dictionary()
    common = [words / name for name in _COMMON if (words / name).exists()]
    rare = [words / name for name in _RARE if (words / name).exists()]
    lists = word_lists(common, rare, known)
    if not common:
        lists["common"] = [word for word in common_words() if word in known]
    with (fixtures / "manifest.csv").open(encoding="utf-8", newline="") as file:
        phrases = sorted({row["transcript"] for row in csv.DictReader(file)})
    pack_words(work, lists, phrases, known)
    pack_people(work, speech, known, clips)


def synthesize(work: Path, seconds: float, processes: int) -> None:
    """Let each kind of synthesizer that is here speak for a while, side by side.

    Raises:
        BadInput: one of them failed.
    """
    running = []
    for kind, needed in _NEEDS.items():
        if not (work / needed).exists():
            continue
        for number in range(processes if kind == "neural" else max(1, processes // 8)):
            out = work / f"{kind}-{number}.npz"
            if out.exists():
                continue
            options = ("--seconds", seconds, "--most", 2400, "--seed", number + 1)
            command = _run("synthesize", kind, work, out, *options)
            running.append(subprocess.Popen(command))  # noqa: S603 - our own module
    if any(process.wait() for process in running):
        raise BadInput("a synthesizer failed; what it wrote stands above")


def main(arguments: Sequence[str] | None = None) -> None:
    """Run all stages that are not done yet."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("work", type=Path)
    parser.add_argument("--speech", type=Path, help="people's recordings, see splits")
    parser.add_argument("--clips", type=Path, help="manifest of further recordings: your shop's")
    parser.add_argument("--words", type=Path, default=Path("/usr/share/dict/scowl"))
    parser.add_argument("--fixtures", type=Path, default=Path("audio_fixtures"))
    parser.add_argument("--synthesis", type=float, default=200, help="seconds of synthesis")
    parser.add_argument("--processes", type=int, default=13)
    parser.add_argument("--training", type=float, default=950, help="seconds of training")
    parser.add_argument("--rows", type=int, default=72, help="of ten seconds in a step")
    parser.add_argument("--width", type=int, default=768)
    parser.add_argument("--narrow", type=int, default=256)
    parser.add_argument("--units", type=int, default=1800, help="left in all bottlenecks")
    parser.add_argument("--warm-up", type=int, default=400, help="steps")
    parser.add_argument("--steps", type=int, default=1_000_000, help="of training at most")
    parser.add_argument("--apart", action="store_true", help="for a short training on few clips")
    parser.add_argument("--blank", type=float, default=0.0, help="price of hearing no phone")
    given = parser.parse_args(arguments)
    work: Path = given.work
    work.mkdir(parents=True, exist_ok=True)
    if not (work / "human.json").exists():
        pack(work, given.speech, given.words, given.fixtures, given.clips)
    synthesize(work, given.synthesis, given.processes)
    weights, model = work / "weights.npz.done", work / "model"
    if not weights.exists():
        sizes = ("--rows", given.rows, "--width", given.width, "--narrow", given.narrow)
        how = ("--seconds", given.training, "--warm-up", given.warm_up, *sizes)
        more = ("--steps", given.steps, *(("--apart",) if given.apart else ()))
        _do(_run("train", work, weights.with_suffix(""), *how, *more))
        weights.touch()
    if not model.exists():
        small = work / "shrunk.npz"
        _do(_run("shrink", work, weights.with_suffix(""), small, "--units", given.units))
        _do(_run("export", small, model, "--blank", given.blank))
    if given.speech is None:
        return
    sets = [each for name in ("tuning", "heard", "unheard", "crowd", "unrelated")
            for each in ("--set", name)]  # fmt: skip
    for engine in (model, "pocketsphinx"):
        _do(_run("evaluate", engine, work / "results.jsonl", "--speech", given.speech, *sets))


if __name__ == "__main__":
    main()
