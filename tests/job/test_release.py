"""Whoever does everything right gets to release, on every checklist that the proof accepts."""

from __future__ import annotations

from collections import Counter

import pytest

from assistant.checklist import rules
from assistant.checklist.loader import load
from assistant.job.state import Mode
from assistant.safety.proof import prove
from tests.job.bench import HEAD, Bench, setting
from tests.job.talk.explored import Explored
from tests.job.talk.talker import SHIPPED, Scene, Talker

CHECKLISTS = 60
_PEOPLE = ((), ("mara",))


def works_through(scene: Scene, *, leaves_out: bool, explored: Explored) -> Talker:
    """A technician without trouble, who leaves out what may be left out or does it."""
    talk = Talker(scene, explored)
    for _ in range(1000):
        if not talk.can_answer():
            return talk
        planned = talk.state.step(talk.setting)
        if leaves_out and talk.state.mode is Mode.STEP and planned and planned.step.optional:
            talk.hear("leave_out")
            talk.hear("leave_out_reason", reason="not-needed")
        else:
            talk.answer()
    raise AssertionError(f"{scene} never ends")


@pytest.mark.parametrize("kind", ["made up", "spoiled"])
def test_what_is_proved_gets_to_release(kind: str) -> None:
    """Made-up checklists, whole or spoiled: proved ones end in release, alone and in twos."""
    explored, verdicts = Explored(), Counter[bool]()
    for number in range(CHECKLISTS * 4):
        apprentices = frozenset(_PEOPLE[number % 2])
        scene = Scene(kind, number, apprentices=apprentices)
        proved = not prove(scene.setting().plan).broken
        verdicts[proved] += 1
        if not proved:
            continue
        for leaves_out in (False, True):
            talk = works_through(scene, leaves_out=leaves_out, explored=explored)
            assert talk.state.mode is Mode.RELEASED, (scene, leaves_out, talk.said())
            assert all((p.second == "tobin") is bool(apprentices) for p in talk.state.passed)
    assert verdicts[True] > CHECKLISTS
    assert verdicts[False] > CHECKLISTS / 2 or kind == "made up"
    assert explored.released == 2 * verdicts[True]


_WAITS_FOR_OPTIONAL = (
    HEAD.replace(
        "sections:",
        """interlocks:
  - interlock: in-order
    says: "The look comes before the cover."
    blocks: [cover]
    while_not_done: [look]
sections:""",
    )
    + """\
      - step: look
        do: "Look at the cable."
        optional: true
      - step: cover
        do: "Set the cover."
"""
)


def test_an_interlock_does_not_wait_for_a_step_left_out() -> None:
    """A checklist that waits for what may be left out is refused: its job could not end."""
    fixed = setting(_WAITS_FOR_OPTIONAL)
    bench = Bench(fixed)
    bench.hear("affirm")
    bench.hear("leave_out")
    bench.hear("leave_out_reason", reason="not-needed")
    for _ in range(5):
        if bench.state.mode is not Mode.RELEASED:
            bench.answer()
    assert bench.state.mode is Mode.STEP
    found = rules.findings(load({"small.yaml": _WAITS_FOR_OPTIONAL}, "small.yaml"))
    assert "waits-for-optional" in {f.code for f in found if f.level == "error"}


@pytest.mark.parametrize("name", SHIPPED)
@pytest.mark.parametrize("apprentices", _PEOPLE, ids=["alone", "apprentice"])
def test_the_shipped_ones_get_to_release(name: str, apprentices: tuple[str, ...]) -> None:
    """The shipped checklists with each choice of options."""
    explored = Explored()
    for number in range(4):
        scene = Scene(name, number, apprentices=frozenset(apprentices))
        for leaves_out in (False, True):
            talk = works_through(scene, leaves_out=leaves_out, explored=explored)
            assert talk.state.mode is Mode.RELEASED, (scene, leaves_out, talk.said())
