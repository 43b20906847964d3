"""Every size of the shipped checklists, spoken by the voice and heard; prints the figure.

Run with: nice -n 15 python -m tests.language.sizes_aloud [--most N] [--digits] [--engine NAME].
With --digits the numbers of readings are said one digit after the other, as they are read back.

Each size, torque, fraction, unit
and number is worded for the ear, rendered by the product's own voice and heard by the engine of
a live job, or the one that is named.
A quantity is said as a reading, at a step that asks for one in its unit, through the grammar that
the job admits there; designations (threads, drivers, oils) and what no reading can be, through a
grammar of all of those. What is heard must mean the same value in the same unit, and nothing else.
Each miss is printed, with whether the product would have taken it (it reads every reading back).
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache

from assistant import packaged
from assistant.cli.live_options import ENGINE
from assistant.engines import open_engine
from assistant.hearing.acceptance import judge, shipped_bars
from assistant.hearing.source import FRAME_BYTES, RATE, room_tone
from assistant.language.book import Phrasebook
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.intent import Cost
from assistant.language.numbers import read_back
from assistant.language.phrasebook import load_phrasebook
from assistant.language.wording import for_ear
from assistant.speaking.renderer import Renderer
from assistant.trade.quantity import number_text, parse_number
from tests.job.bench import HEAD, at_step
from tests.job.talk.talker import grammar_of
from tests.language.sizes_written import Meaning, Written, written

_UNIFIED = {"unc": "u n c", "unf": "u n f", "unef": "u n e f"}
_PHRASES = {
    "number": "<cardinal>",
    "quantity": "<number> <unit>",
    "below_number": "minus <number>",
    "below_quantity": "minus <number> <unit>",
    "thousands": "<number> thousand <unit>",
    "metric_1": "m <cardinal>",
    "metric_2": "m <cardinal> by <pitch>",
    "hexalobular": "t <cardinal>",
    "oil": "<winter> w <cardinal>",
    "winter_oil": "<winter> w",
    "brake_fluid": "dot <grade>",
    **{f"unified_{name}": f"<inch> <cardinal> {said}" for name, said in _UNIFIED.items()},
    **{f"unified_{name}_screw": f"number <screw> <cardinal> {said}"
       for name, said in _UNIFIED.items()},
}  # fmt: skip
_TABLES = {
    "pitch": "0.5 0.6 0.7 0.75 0.8 1 1.25 1.5 1.75 2 2.5 3",  # mm, M3 to M24: ISO 261
    "inch": "1/4 5/16 3/8 7/16 1/2 9/16 5/8 3/4 7/8 1",  # ASME B1.1
    "screw": "4 5 6 8 10 12",  # numbered sizes, ASME B1.1
    "winter": "0 5 10 15 20 25 70 75 80 85",  # SAE J300 and J306
    "grade": "3 4 5 5.1",  # 49 CFR 571.116
}
"""What may be said of each designation."""
_LETTERS = {"m": "EH M", "t": "T IY", "u": "Y UW", "n": "EH N", "c": "S IY", "e": "IY",
            "f": "EH F", "w": "D AH B AH L Y UW", "r": "AA R", "p": "P IY"}  # fmt: skip
"""Letters by themselves, in the phones of the CMU dictionary."""
_STEP = """\
      - step: measure
        do: "Measure it."
        readings: [{name: "value", unit: "UNIT", at_least: "0 UNIT", at_most: "999 UNIT"}]
"""


@dataclass(frozen=True, slots=True)
class Outcome:
    """What became of one size.

    Attributes:
        right: the words that were heard mean this size and nothing else.
        taken: the product would have acted on them.
    """

    written: Written
    words: str
    heard: str
    right: bool
    taken: bool


def is_reading(one: Written) -> bool:
    """Whether a technician can say it as a reading."""
    kind, slots = one.meaning
    return kind == "quantity" and dict(slots)["unit"] in packaged.phrasebook("en").slots["unit"]


@cache
def reading_grammar(unit: str) -> Grammar:
    """What a job admits at a step that asks for a reading in this unit."""
    bench = at_step("measure", text=HEAD + _STEP.replace("UNIT", unit))
    return grammar_of(bench.setting, bench.state)


@cache
def designation_grammar() -> Grammar:
    """Threads, drivers, oils, bare numbers, and units that no reading has."""
    phrases = dict(_PHRASES)
    book = designation_book()
    if not book.slots["unit"]:
        phrases = {name: said for name, said in phrases.items() if "<unit>" not in said}
    return build_grammar(book, phrases)


@cache
def designation_book() -> Phrasebook:
    """The phrasebook of that grammar."""
    numbers, wording = packaged.numbers_of("en"), packaged.wording("en")
    used = {v for one in written() if not is_reading(one) for k, v in one.meaning[1] if k == "unit"}
    tables = {
        slot: {number_text(parse_number(text)): [for_ear(text, wording)] for text in texts.split()}
        for slot, texts in _TABLES.items()
    }
    units = {s: [wording.units[s].one.lower(), wording.units[s].many.lower()] for s in used}
    lines = ["language: en", "intents:"]
    lines += [f'  {k}: {{cost: value, phrases: ["{v}"], help: "x"}}' for k, v in _PHRASES.items()]
    lines += ["slots:"]
    for slot, table in {"unit": units, **tables}.items():
        lines += [f"  {slot}:", *(f'    "{k}": {list(dict.fromkeys(v))}' for k, v in table.items())]
    lines += ["pronunciations:"]
    lines += [f'  "{letter}": ["{phones}"]' for letter, phones in _LETTERS.items()]
    return load_phrasebook("\n".join(lines) + "\n", "sizes.yaml", numbers)


def worded(one: Written, *, digits: bool = False) -> str:
    """The size as the voice gets it, alone or as a reading; its number perhaps digit by digit."""
    if digits and is_reading(one):
        slots = dict(one.meaning[1])
        number = read_back(parse_number(slots["number"]), packaged.numbers_of("en"))
        return f"reading {number} {packaged.phrasebook('en').slots['unit'][slots['unit']][0]}"
    before = "SAE " if one.meaning[0] == "winter_oil" else ""
    words = for_ear(before + one.text, packaged.wording("en")).removeprefix("S A E ")
    return f"reading {words}" if is_reading(one) else words


def grammar_for(one: Written) -> Grammar:
    """Where this size is heard."""
    return (
        reading_grammar(dict(one.meaning[1])["unit"])
        if is_reading(one)
        else (designation_grammar())
    )


def means(words: str, one: Written) -> bool:
    """Whether the words mean this size and nothing else."""
    found = {(intent.name, intent.slots) for intent in grammar_for(one).matches(words)}
    return found == {_as_heard(one)}


def _as_heard(one: Written) -> Meaning:
    """Thousands have a phrase of their own, since nobody has to say a number above 999."""
    name, slots = one.meaning
    if is_reading(one):
        return "reading", slots
    (_, number), *rest = slots
    if name == "quantity" and number.endswith("000"):
        return "thousands", (("number", number[:-3]), *rest)
    return name, slots


def hear(
    sizes: Iterable[Written], engine_name: str = ENGINE, *, digits: bool = False
) -> Iterator[Outcome]:
    """Say each size and listen, as to one technician in one job."""
    engine = open_engine(engine_name)
    bars = shipped_bars()[engine.name]
    with Renderer() as voice:
        for one in sizes:
            words = worded(one, digits=digits)
            pcm = voice.render(words).at_rate(RATE).pcm
            sound = room_tone(RATE * 2 // 5) + pcm + room_tone(RATE // 2)
            engine.use(grammar_for(one))
            engine.start()
            for at in range(0, len(sound), FRAME_BYTES):
                engine.feed(sound[at : at + FRAME_BYTES])
            found = engine.finish()
            intent = grammar_for(one).match(found.text)
            taken = judge(bars, found, intent, Cost.VALUE, None).verdict == "accepted"
            yield Outcome(one, words, found.text, means(found.text, one), taken)


def main() -> None:
    """Hear them all, or so many spread over all, and print the figures."""
    command = argparse.ArgumentParser()
    command.add_argument("--most", type=int)
    command.add_argument("--digits", action="store_true")
    command.add_argument("--engine", default=ENGINE)
    given = command.parse_args()
    sizes = written()
    if given.most:
        sizes = sizes[:: max(1, len(sizes) // given.most)]
    right: Counter[str] = Counter()
    of: Counter[str] = Counter()
    taken: Counter[bool] = Counter()
    for outcome in hear(sizes, given.engine, digits=given.digits):
        kind = "reading" if is_reading(outcome.written) else outcome.written.meaning[0]
        of[kind] += 1
        right[kind] += outcome.right
        taken[outcome.right] += outcome.taken
        if not outcome.right:
            done = "taken" if outcome.taken else "asked again"
            said = (
                f'{outcome.written.text}: said "{outcome.words}", heard "{outcome.heard}", {done}'
            )
            sys.stdout.write(said + "\n")
            sys.stdout.flush()
    for kind, count in of.most_common():
        sys.stdout.write(f"{kind}: {right[kind]} of {count}\n")
    sys.stdout.write(f"all: {right.total()} of {of.total()}, {right.total() / of.total():.1%}\n")
    sys.stdout.write(f"taken: {taken[True]} of those right, {taken[False]} of those wrong\n")


if __name__ == "__main__":
    main()
