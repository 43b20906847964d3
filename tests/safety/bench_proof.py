"""How long the proof takes: `python -m tests.safety.bench_proof` prints the table.

Checklists of repeated little jobs (each takes something off, opens the brake, closes and proves
it, puts the thing back) with options in three layouts: spread (each option decides about steps
of its own, in one place), far (each option decides about a step near the beginning and its
counterpart near the end), and one (all options decide about the same hazard and the same item,
between its opening and its closing, so that they can't be taken apart).
"""

from __future__ import annotations

import json
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from typing import Final

from assistant.checklist.expand import Candidate
from assistant.checklist.model import OptionValue, Step
from assistant.checklist.plan import PlannedStep
from assistant.safety.proof import MOST_STATES, Proof, _prove

STEPS: Final = (10, 100, 1_000, 10_000)
OPTIONS: Final = (0, 1, 2, 4, 8, 12, 16)
_CYCLE: Final[tuple[dict[str, object], ...]] = (
    {"off": [{"item": "cover"}]},
    {"hazards": {"brake": "open"}},
    {"hazards": {"brake": "close"}},
    {"hazards": {"brake": "prove"}},
    {"back": [{"item": "cover"}]},
)
When = tuple[tuple[str, OptionValue], ...]


def _candidate(index: int, what: Mapping[str, object], when: When = ()) -> Candidate:
    said = {"step": f"step-{index}", "do": "Do it.", **what}
    step = Step.model_validate_json(json.dumps(said))
    planned = PlannedStep(step.step, 0, "only", "Only section", step, "bench.yaml", index + 1)
    return Candidate(planned, when, "")


def _plain(count: int) -> list[Candidate]:
    """Little jobs, each with an item of its own."""
    made = []
    for index in range(count):
        job, place = divmod(index, len(_CYCLE))
        text = json.dumps(_CYCLE[place]).replace("cover", f"cover {job}")
        made.append(_candidate(index, json.loads(text)))
    return made


def _spread(count: int, options: int) -> list[Candidate]:
    """Each option decides about neighboring steps: take off and put back."""
    made = _plain(count)
    for option in range(options):
        # Between two little jobs, counting what was put in before.
        at = option * max(1, count // len(_CYCLE) // options) * len(_CYCLE) + 2 * option
        when = ((f"option_{option}", True),)
        thing = f"thing {option}"
        made.insert(at, _candidate(count + 2 * option, {"off": [{"item": thing}]}, when))
        made.insert(at + 1, _candidate(count + 2 * option + 1, {"back": [{"item": thing}]}, when))
    return made


def _far(count: int, options: int) -> list[Candidate]:
    """Each option takes something off near the beginning and puts it back near the end."""
    whens = [((f"option_{option}", True),) for option in range(options)]
    first = [
        _candidate(count + n, {"off": [{"item": f"thing {n}"}]}, w) for n, w in enumerate(whens)
    ]
    last = [
        _candidate(count + 100 + n, {"back": [{"item": f"thing {n}"}]}, w)
        for n, w in enumerate(whens)
    ]
    return [*first, *_plain(count), *last]


def _one(count: int, options: int) -> list[Candidate]:
    """All options take and give the same kind of thing while one brake is open, far apart."""
    whens = [((f"option_{option}", True),) for option in range(options)]
    opened = _candidate(count, {"hazards": {"brake": "open"}})
    work = [
        _candidate(count + 1 + n, {"hazards": {"brake": "work"}, "off": [{"item": "clip"}]}, w)
        for n, w in enumerate(whens)
    ]
    again = [
        _candidate(count + 101 + n, {"hazards": {"brake": "work"}, "back": [{"item": "clip"}]}, w)
        for n, w in enumerate(whens)
    ]
    closed = _candidate(count + 99, {"hazards": {"brake": "close"}})
    proved = _candidate(count + 98, {"hazards": {"brake": "prove"}})
    return [*_plain(count), opened, *work, *again, closed, proved]


LAYOUTS: Final[dict[str, Callable[[int, int], list[Candidate]]]] = {
    "spread": _spread,
    "far": _far,
    "one": _one,
}


def measured() -> Iterator[tuple[str, int, int, float, Proof]]:
    """Layout, steps, options, seconds, proof."""
    for name, layout in LAYOUTS.items():
        for count in STEPS:
            for options in OPTIONS:
                if (name, options) == ("one", OPTIONS[-1]) and count != STEPS[0]:
                    continue  # as long for any number of steps
                steps = layout(count, options)
                values = {f"option_{n}": (False, True) for n in range(options)}
                began = time.perf_counter()
                proof = _prove(steps, values, (), MOST_STATES)
                yield name, count, options, time.perf_counter() - began, proof


def _said(proof: Proof) -> str:
    if not proof.complete:
        return "NOT PROVED"
    return f"broken: {proof.broken[0].code}" if proof.broken else "yes"


def main() -> None:
    """Print the table."""
    heads = ("steps", "options", "seconds", "states", "paths")
    sys.stdout.write("layout  " + "".join(f"{head:>12}" for head in heads) + "  proved\n")
    for name, count, options, seconds, proof in measured():
        sys.stdout.write(
            f"{name:8}{count:>12}{options:>12}{seconds:>12.3f}{proof.states:>12,}"
            f"{proof.paths:>12,}  {_said(proof)}\n"
        )
        sys.stdout.flush()


if __name__ == "__main__":
    main()
