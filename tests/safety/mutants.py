"""Mutants of the shipped checklists, judged by the proof, by the dialogue, and by the tags alone.

`python -m tests.safety.mutants` tries all of them and prints the table; with a number, one of
so many.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass

from assistant import packaged
from assistant.checklist import rules
from assistant.checklist.loader import Loaded, load
from assistant.errors import BadFile
from assistant.safety import detection, events
from assistant.safety.proof import prove_checklist
from tests.safety.mutations import SHIPPED, Mutant, mutants
from tests.safety.simulator import disturbed, straight
from tests.safety.tag_judge import tag_faults


@dataclass(frozen=True, slots=True)
class Verdict:
    """What each of the judges says of a mutant.

    Attributes:
        refused: codes by which it is refused without the proof; a file that can't be loaded
            is not simulated.
        proof: codes of the proof.
        unsafe: how the simulator went wrong, "" when it didn't.
        tags: what the tags alone break on a path without trouble, "" when nothing.
        straight: the simulator went wrong without any disturbance.
    """

    mutant: Mutant
    refused: tuple[str, ...]
    proof: tuple[str, ...] = ()
    unsafe: str = ""
    tags: str = ""
    straight: bool = False
    loaded: bool = True

    @property
    def missed(self) -> bool:
        """Unsafe, and nothing says so."""
        return bool(self.unsafe) and not self.proof and not self.refused

    @property
    def false_alarm(self) -> bool:
        """Safe, and the proof says otherwise."""
        return self.loaded and bool(self.proof) and not self.unsafe

    @property
    def judges_differ(self) -> bool:
        """The table of tags and the dialogue disagree on paths without trouble."""
        return self.loaded and bool(self.tags) != self.straight


def judge(mutant: Mutant) -> Verdict:
    """Load, check, prove and simulate a mutant."""
    try:
        loaded = load(mutant.files, mutant.main)
    except BadFile as error:
        return Verdict(mutant, tuple({f.code for f in error.findings}), loaded=False)
    proof = prove_checklist(loaded)
    proved = tuple(sorted({b.code for b in proof.broken})) + (() if proof.complete else ("bound",))
    found = (
        *rules.findings(loaded),
        *detection.findings(loaded, packaged.hazard_words("en")),
        *events.findings(loaded, packaged.event_words("en")),
    )
    other = {f.code for f in found if f.level == "error"}
    unsafe, plain = _simulated(loaded, suspected=bool(proved))
    tags = next(tag_faults(loaded), "")
    return Verdict(mutant, tuple(sorted(other)), proved, unsafe, tags, plain)


def _simulated(loaded: Loaded, *, suspected: bool) -> tuple[str, bool]:
    """How the simulator goes wrong; before a false alarm is said, on every choice of options."""
    fault = straight(loaded)
    if fault is not None:
        return _told(fault.path, fault.said), True
    fault = disturbed(loaded, None if suspected else 1)
    return (_told(fault.path, fault.said), False) if fault is not None else ("", False)


def _told(path: tuple[str, ...], said: tuple[str, ...]) -> str:
    return f"{'; '.join(path)}: {', '.join(said)}"


def table(verdicts: list[Verdict]) -> str:
    """One line for each kind of mutation."""
    counts: dict[str, Counter[str]] = {}
    for verdict in verdicts:
        for kind in (verdict.mutant.kind, "all"):
            row = counts.setdefault(kind, Counter())
            row["mutants"] += 1
            row["not loaded"] += not verdict.loaded
            row["unsafe"] += bool(verdict.unsafe)
            row["by proof"] += bool(verdict.unsafe and verdict.proof)
            row["by rules"] += bool(verdict.unsafe and verdict.refused and not verdict.proof)
            row["missed"] += verdict.missed
            row["safe"] += verdict.loaded and not verdict.unsafe
            row["false alarms"] += verdict.false_alarm
            row["judges differ"] += verdict.judges_differ
    counts["all"] = counts.pop("all", Counter())
    heads = ("mutants", "not loaded", "unsafe", "by proof", "by rules", "missed", "safe",
             "false alarms", "judges differ")  # fmt: skip
    lines = [f"{'kind of mutation':28}" + "".join(f"{h:>{len(h) + 2}}" for h in heads)]
    for kind, row in counts.items():
        lines.append(f"{kind:28}" + "".join(f"{row[h]:>{len(h) + 2}}" for h in heads))
    return "\n".join(lines)


def main(share: int = 1) -> int:
    """Try every mutant (or one of so many) and print the table."""
    began = time.perf_counter()
    every = [m for name in SHIPPED for m in mutants(name)]
    verdicts = []
    for mutant in every[::share]:
        verdicts.append(judge(mutant))
        verdict = verdicts[-1]
        if verdict.missed or verdict.false_alarm or verdict.judges_differ:
            sys.stdout.write(
                f"DISAGREE {mutant.kind}: {mutant.what}\n  proof {verdict.proof}, rules "
                f"{verdict.refused}\n  simulator {verdict.unsafe!r}; tags {verdict.tags!r}\n"
            )
            sys.stdout.flush()
    sys.stdout.write(f"{table(verdicts)}\n{time.perf_counter() - began:.0f} s\n")
    return int(any(v.missed or v.false_alarm or v.judges_differ for v in verdicts))


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1))
