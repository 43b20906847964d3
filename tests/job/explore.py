"""Random dialogues in number: `python -m tests.job.explore [STEPS]` (200,000 if left out).

Prints how many steps were taken in each kind of scene, which modes, rows of the transition table
and safety stops were met, and how long it took. Ends with 1 where a judge objects.
"""

from __future__ import annotations

import secrets
import sys
import time
from collections.abc import Sequence

from hypothesis import HealthCheck, Phase, seed, settings
from hypothesis.stateful import run_state_machine_as_test

from assistant.job.table import TABLE
from tests.job.talk.dialogue import Dialogue
from tests.job.talk.explored import Explored
from tests.job.talk.stage import scenes

SHARES = {"small": 0.5, "shipped": 0.25, "made up": 0.25}
"""Parts of all steps taken in each kind of scene."""
NIGHTLY = 200_000
_NO_SHRINKING = (Phase.explicit, Phase.reuse, Phase.generate)


def explore(
    kind: str, steps: int, phases: Sequence[Phase] = tuple(Phase), first_seed: int = 0
) -> Explored:
    """Random dialogues of one kind of scene until so many steps of all sorts were taken.

    Args:
        kind: key of `scenes`.
        steps: events that must have reached the job's core.
        phases: of hypothesis; without shrinking a failure comes sooner.
        first_seed: of the first round; each round of dialogues has the next, so that none is
            walked twice and a failure can be walked again.
    """
    found = Explored()
    members = {"where": scenes[kind], "explored": found, "roads": {}}
    machine: type[Dialogue] = type("Dialogue", (Dialogue,), members)
    chosen = settings(
        max_examples=40,
        stateful_step_count=50,
        deadline=None,
        phases=phases,
        database=None,
        suppress_health_check=list(HealthCheck),
    )
    while found.steps < steps or (found.lacks() and found.steps < 10 * steps):
        seed(first_seed + found.rounds)(machine)
        run_state_machine_as_test(machine, settings=chosen)
        found.rounds += 1
    return found


def table_told(found: Explored) -> str:
    """What was met and what wasn't, in a few lines."""
    stops = ", ".join(f"{name} {count:,}" for name, count in sorted(found.passed.items()))
    rules = ", ".join(f"{name} {count:,}" for name, count in found.rules.most_common())
    missing = ", ".join(f"{mode} / {name}" for mode, name in found.missing()) or "none"
    allowed = {(*row, mode) for row, rule in TABLE.items() for mode in rule.to}
    return (
        f"stops passed: {stops}\nrules: {rules}\n"
        f"ways of the table (row and mode after): {len(found.led)} of {len(allowed)} allowed\n"
        f"rows of the table not met: {missing}"
    )


def main(steps: int = NIGHTLY) -> None:
    """Explore all kinds of scenes and print what was met."""
    whole, first = Explored(), secrets.randbelow(10**9)
    print(f"first seed {first}", flush=True)  # noqa: T201
    for kind, share in SHARES.items():
        began, used = time.monotonic(), time.process_time()
        found = explore(kind, int(steps * share), _NO_SHRINKING, first)
        wall, cpu = time.monotonic() - began, time.process_time() - used
        print(f"{kind}: {found.told()}; {wall:.0f} s, {cpu:.0f} s of CPU", flush=True)  # noqa: T201
        whole.add(found)
    print(f"all: {whole.told()}\n{table_told(whole)}")  # noqa: T201


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
