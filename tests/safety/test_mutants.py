"""Mutated checklists: the proof says the same as the dialogue tried out by brute force."""

from __future__ import annotations

from functools import cache

import pytest

from assistant import shelf
from assistant.checklist.expand import expand
from assistant.checklist.loader import Loaded, load
from tests.job.bench import HEAD
from tests.safety.mutants import Verdict, judge, table
from tests.safety.mutations import KINDS, SHIPPED, Mutant, mutants
from tests.safety.simulator import disturbed, straight
from tests.safety.tag_judge import tag_faults

TRIED = 130  # mutants in a default run, evenly spread; `python -m tests.safety.mutants` for all


@cache
def _every() -> tuple[Mutant, ...]:
    return tuple(m for name in SHIPPED for m in mutants(name))


def _some() -> tuple[Mutant, ...]:
    """Every so-manieth mutant."""
    return _every()[:: len(_every()) // TRIED]


@cache
def _verdicts() -> tuple[Verdict, ...]:
    return tuple(judge(mutant) for mutant in _some())


def test_there_are_enough_mutants() -> None:
    """A full run tries at least a thousand, a default run over a hundred, of every kind."""
    assert len(_every()) >= 1_000
    assert len(_some()) >= 110
    assert {m.kind for m in _every()} == set(KINDS)
    assert len({m.kind for m in _some()}) == len(KINDS)
    changed = [tuple(m.files.values()) for m in _every()]
    assert len(set(changed)) >= 0.95 * len(changed)


def test_every_unsafe_mutant_is_caught() -> None:
    """What the dialogue can't get through is an error before the job, and there is plenty of it."""
    assert [v.mutant.what for v in _verdicts() if v.missed] == []
    assert sum(bool(v.unsafe and v.proof) for v in _verdicts()) >= 40


def test_no_safe_mutant_is_called_broken() -> None:
    """What the dialogue always gets through has no breach in the proof."""
    assert [v.mutant.what for v in _verdicts() if v.false_alarm] == []
    assert sum(v.loaded and not v.unsafe for v in _verdicts()) >= 20


def test_the_tags_alone_say_the_same() -> None:
    """A table of tags, written apart from both, agrees on the paths without trouble."""
    assert [v.mutant.what for v in _verdicts() if v.judges_differ] == []


def test_the_table_counts_every_mutant() -> None:
    """Its last line has the total."""
    last = table(list(_verdicts())).splitlines()[-1].split()
    assert last[:2] == ["all", str(len(_verdicts()))]


@pytest.mark.parametrize("name", SHIPPED)
def test_the_shipped_checklists_can_be_done_whatever_comes_between(name: str) -> None:
    """Without a mutation every job ends, on every choice of options."""
    loaded = shelf.load_checklist(shelf.find_checklist(name))
    assert straight(loaded) is None
    assert disturbed(loaded, None) is None
    assert list(tag_faults(loaded)) == []


def _small(*steps: str) -> Loaded:
    text = HEAD + "".join(f"      - {{{step}}}\n" for step in steps)
    loaded = load({"small.yaml": text}, "small.yaml")
    assert expand(loaded, {}).steps
    return loaded


def test_the_simulator_sees_what_only_a_disturbance_brings_about() -> None:
    """A trouble that reopens finished work is put right too late: the job goes round for ever."""
    loaded = _small(
        "step: hose, do: Do it., hazards: {brake: open}",
        "step: back-on, do: Do it., hazards: {brake: close}",
        "step: lever, do: Do it., hazards: {brake: prove}, reopens: [hose]",
    )
    assert straight(loaded) is None
    fault = disturbed(loaded)
    assert fault is not None
    assert "trouble at lever" in fault.path or "leak at lever" in fault.path


def test_the_simulator_leaves_steps_out() -> None:
    """An optional step that something later needs makes the job stuck when it is left out."""
    loaded = _small(
        "step: one, do: Do it., optional: true, off: [{item: cap}]",
        "step: two, do: Do it., back: [{item: cap}]",
    )
    fault = straight(loaded)
    assert fault is not None
    assert fault.path[1] == "one left out"
