"""Measures how well an engine's evidence tells right from wrong; for developers.

    python -m assistant.hearing.calibrate MANIFEST.csv [--split tuning] [--noise pink --snr 15]

Every clip of the manifest is spoken into a room and heard as in a job. A clip with an intent must
be understood as that; any other clip is unrelated speech or noise, of which nothing may be
accepted. The bars in data/acceptance.yaml were chosen from such runs.
"""

from __future__ import annotations

import argparse
import csv
import json
import sys
import time
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Final

from assistant.hearing.ear import Ear, Heard, Nothing
from assistant.hearing.engines import Engine
from assistant.hearing.engines.pocketsphinx_engine import PocketSphinxEngine
from assistant.hearing.engines.vosk_engine import VoskEngine
from assistant.hearing.models import find_model
from assistant.hearing.room import KINDS, QUIET, Room
from assistant.hearing.source import read_audio
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.number_words import load_numbers
from assistant.language.phrasebook import Phrasebook, load_phrasebook

STEP: Final = tuple(
    "step_done reading say_again say_again_slowly what_size what_torque what_caution what_parts "  # noqa: SIM905 - a list this long reads better as words
    "why what_next where_are_we what_is_off how_long_left convert correction go_back leave_out "
    "stand_by carry_on quiet freeze report_trouble trouble_cleared take_note start_timer "
    "start_hold also_off back_on smell_of_fuel smoke fluid_leak read_part_number hand_over "
    "disregard".split()
)
"""What is admitted beside the clip's own intent: an open step of the job, at its fullest."""

NAMES: Final = {"mara": ("mara",), "ines": ("ines",), "tobin": ("tobin",)}
READ_BACK: Final = "negative is off and clear"

_SHARES: Final = (0, 0.05, 0.25, 0.5, 0.75, 0.95, 1)


@dataclass(frozen=True, slots=True)
class Clip:
    """A row of a manifest; `intent` is "" for what must not be acted on."""

    file: Path
    words: str
    speaker: str
    intent: str


@dataclass(frozen=True, slots=True)
class Result:
    """One clip and what the ear made of it: "correct", "asked again", "wrong" or "not heard"."""

    clip: Clip
    outcome: str
    heard: Heard | None


def read_manifest(path: Path, split: str | None) -> tuple[Clip, ...]:
    """The clips of a manifest, of one split (or without a split) if one is named."""
    with path.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    return tuple(
        Clip(path.parent / row["file"], row["transcript"], row["speaker"], row.get("intent") or "")
        for row in rows
        if (split is None or (row.get("split") or split) == split) and row.get("kind") != "fragment"
    )


def shipped_phrasebook(language: str) -> Phrasebook:
    """The phrasebook and number words that come with the package."""
    folder = files("assistant.language").joinpath("data", language)
    numbers = load_numbers(folder.joinpath("numbers.yaml").read_text("utf-8"), "numbers.yaml")
    text = folder.joinpath("phrasebook.yaml").read_text("utf-8")
    return load_phrasebook(text, "phrasebook.yaml", numbers)


class Grammars:
    """What is admitted when a clip is said, each grammar made once."""

    def __init__(self, book: Phrasebook) -> None:
        self._book = book
        self._made: dict[str, Grammar] = {}

    def state_for(self, clip: Clip) -> Grammar:
        """An open step with the clip's intent beside it; for unrelated sound with the dearest ones.

        A safety stop admits its own read-back only, so that one is taken from the clip's words.
        """
        read_back = " ".join(clip.words.split()[:-2]) if clip.intent == "read_back" else READ_BACK
        key = clip.intent and f"{clip.intent} {read_back}"
        if key not in self._made:
            wanted = {clip.intent} if clip.intent else {"affirm", "negative", "read_back"}
            fillers = {"name": NAMES, "read_back": {"stop": (read_back,)}}
            self._made[key] = build_grammar(self._book, wanted | set(STEP), fillers)
        return self._made[key]


def measure(
    clips: Iterable[Clip], engine: Engine, book: Phrasebook, noise: str, snr_db: float | None
) -> Iterator[Result]:
    """Speak every clip into a room and hear it."""
    grammars = Grammars(book)
    room = Room(noise, snr_db)
    ear = Ear(room, engine)
    for clip in clips:
        grammar = grammars.state_for(clip)
        room.speak(read_audio(clip.file), after_s=0.6)
        yield _worst(clip, grammar, list(_utterances(ear, room, grammar)))


def _utterances(ear: Ear, room: Room, grammar: Grammar) -> Iterator[Heard]:
    while True:
        heard = ear.hear(grammar, patience_s=0.8)
        if isinstance(heard, Heard):
            yield heard
        elif isinstance(heard, Nothing) and not room.speaking:
            return


def _worst(clip: Clip, grammar: Grammar, heard: Sequence[Heard]) -> Result:
    """One result for a clip, though it may have been cut into several utterances."""
    meant = grammar.match(clip.words) if clip.intent else None
    results = []
    for each in heard:
        if each.intent is None:
            outcome = "asked again"
        elif meant is not None and (each.intent.name, each.intent.slots) == (
            meant.name,
            meant.slots,
        ):
            outcome = "correct"
        else:
            outcome = "wrong"
        results.append(Result(clip, outcome, each))
    order = ("wrong", "correct", "asked again")
    results.sort(key=lambda result: order.index(result.outcome))
    return results[0] if results else Result(clip, "not heard", None)


def table(results: Sequence[Result]) -> str:
    """Outcomes by speaker (clips with an intent) or as one line (unrelated sound)."""
    counts: dict[str, Counter[str]] = {}
    for result in results:
        name = result.clip.speaker if result.clip.intent else "(unrelated)"
        counts.setdefault(name, Counter())[result.outcome] += 1
    columns = ("correct", "asked again", "wrong", "not heard")
    lines = [f"{'speaker':20}" + "".join(f"{column:>13}" for column in columns)]
    for name, count in sorted(counts.items()):
        lines.append(f"{name:20}" + "".join(f"{count[column]:>13}" for column in columns))
    return "\n".join(lines)


def distributions(results: Sequence[Result]) -> str:
    """Quantiles of each piece of evidence for right, wrong and unrelated words."""
    groups: dict[str, list[Mapping[str, float]]] = {}
    for result in results:
        if result.heard is None or not result.heard.text:
            continue
        right = result.clip.intent and result.heard.text == result.clip.words
        kind = "right" if right else "misheard" if result.clip.intent else "unrelated"
        evidence = {"confidence": result.heard.confidence, **result.heard.evidence}
        groups.setdefault(kind, []).append(evidence)
    lines = []
    for kind, found in sorted(groups.items()):
        lines.append(f"{kind}: {len(found)} utterances; 0, 5, 25, 50, 75, 95, 100 %:")
        for name in found[0]:
            values = sorted(each[name] for each in found if name in each)
            shown = (
                values[round(p * (len(values) - 1))] for p in (0, 0.05, 0.25, 0.5, 0.75, 0.95, 1)
            )
            lines.append(f"  {name:12}" + "".join(f"{value:9.2f}" for value in shown))
    return "\n".join(lines)


def _line(result: Result, noise: str, snr_db: float | None) -> str:
    heard = result.heard
    facts = {
        "file": str(result.clip.file),
        "speaker": result.clip.speaker,
        "words": result.clip.words,
        "intent": result.clip.intent,
        "noise": noise,
        "snr": snr_db,
        "outcome": result.outcome,
        "text": heard.text if heard else None,
        "why": heard.why if heard else None,
        "confidence": heard.confidence if heard else None,
        "seconds": len(heard.clip) / 32_000 if heard else None,
        "latency": heard.decided_s - heard.ended_s if heard else None,
        "heard_snr": heard.snr_db if heard else None,
        "evidence": dict(heard.evidence) if heard else {},
    }
    return json.dumps(facts, ensure_ascii=False) + "\n"


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure one manifest under one condition and print what came out."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("manifest", type=Path)
    parser.add_argument("--split", help="only rows of this split, or without one")
    parser.add_argument("--every", type=int, default=1, help="take every so manieth clip")
    parser.add_argument("--noise", choices=KINDS, default=QUIET)
    parser.add_argument("--snr", type=float, help="dB of speech over noise")
    parser.add_argument("--model", help="a Vosk model instead of PocketSphinx")
    parser.add_argument("--language", default="en")
    parser.add_argument("--lines", type=Path, help="append every result to this file as JSON")
    given = parser.parse_args(arguments)
    engine: Engine = VoskEngine(find_model(given.model)) if given.model else PocketSphinxEngine()
    clips = read_manifest(given.manifest, given.split)[:: given.every]
    began = time.process_time()
    results = []
    for result in measure(
        clips, engine, shipped_phrasebook(given.language), given.noise, given.snr
    ):
        results.append(result)
        if given.lines:
            with given.lines.open("a", encoding="utf-8") as file:
                file.write(_line(result, given.noise, given.snr))
    spent = time.process_time() - began
    sys.stdout.write(f"{table(results)}\n\n{distributions(results)}\n\n{spent:.0f} s of CPU time\n")


if __name__ == "__main__":
    main()
