"""A shared section included more than once, each time under a name of its own."""

from __future__ import annotations

import pytest

from assistant.checklist.expand import expand
from assistant.checklist.loader import Loaded
from assistant.checklist.plan import Plan
from assistant.safety.hazards import Stop
from assistant.safety.placement import place_stops
from assistant.safety.proof import prove_checklist
from tests.checklist.making import HEAD, loaded, refused

BLEED = """\
shared: bleed
title: Bleed a circuit
source: Written for a test.
steps:
  - step: cap-off
    do: Take the reservoir cap off.
    off: [{item: reservoir cap}]
    hazards: {brake: open}
  - step: nipple
    do: Tighten the {name} bleed nipple.
    fastener: {name: bleed nipple, thread: M8 × 1.25, head: hex, drive: 8 mm wrench}
    parts: [{name: nipple cap, number: A1-20}]
    hazards: {brake: work}
  - step: cap-on
    do: Put the reservoir cap on.
    back: [{item: reservoir cap}]
    hazards: {brake: close}
  - step: hold
    do: Squeeze and hold.
    hold: {time: 30 s, what: "Firm, not sinking."}
    reopens: [nipple]
    hazards: {brake: prove}
"""
FILES = {"shared/bleed.yaml": BLEED}


def twice(*lines: str) -> str:
    """A checklist of these entries under sections."""
    return HEAD + "sections:\n" + "".join(f"  - {line}\n" for line in lines)


def both() -> Loaded:
    """The section for the left and for the front circuit."""
    return loaded(
        twice(
            "{include: shared/bleed.yaml, name: left}",
            "{include: shared/bleed.yaml, name: front circuit}",
        ),
        FILES,
    )


def plan_of_both() -> Plan:
    """Its plan."""
    return expand(both(), {})


def test_steps_of_each_inclusion_have_names_of_their_own() -> None:
    """The name stands in front, and reopening stays within the inclusion."""
    steps = {step.id: step for step in plan_of_both().steps}
    assert list(steps) == [
        "left-cap-off", "left-nipple", "left-cap-on", "left-hold",
        "front-circuit-cap-off", "front-circuit-nipple", "front-circuit-cap-on",
        "front-circuit-hold",
    ]  # fmt: skip
    assert steps["left-hold"].step.reopens == ("left-nipple",)
    assert steps["front-circuit-hold"].step.reopens == ("front-circuit-nipple",)
    assert {step.section for step in steps.values()} == {"left-bleed", "front-circuit-bleed"}
    assert all(step.file == "shared/bleed.yaml" and step.line >= 5 for step in steps.values())


def test_it_is_always_said_which_inclusion_a_step_is_of() -> None:
    """Where the text has no {name}, the name is said before it."""
    steps = plan_of_both().steps
    assert [step.step.do for step in steps[:2]] == [
        "Left: Take the reservoir cap off.",
        "Tighten the left bleed nipple.",
    ]
    assert steps[4].step.do == "Front circuit: Take the reservoir cap off."
    assert steps[4].section_title == "Bleed a circuit, front circuit"


def test_things_of_each_inclusion_stay_apart() -> None:
    """Items of the off-list, parts and fasteners carry the name."""
    plan = plan_of_both()
    assert [entry.item for step in plan.steps for entry in step.step.off] == [
        "left reservoir cap",
        "front circuit reservoir cap",
    ]
    assert [part.name for step in plan.steps for part in step.step.parts] == [
        "left nipple cap",
        "front circuit nipple cap",
    ]
    assert plan.steps[1].step.fastener is not None
    assert plan.steps[1].step.fastener.name == "left bleed nipple"


def test_each_inclusion_meets_its_own_stops() -> None:
    """The brake is opened and proven once for each."""
    plan = plan_of_both()
    assert [placed.stop for placed in place_stops(plan)] == [
        Stop.BRAKE_OPEN, Stop.BRAKE_PROVEN, Stop.BRAKE_OPEN, Stop.BRAKE_PROVEN, Stop.RELEASE,
    ]  # fmt: skip


def test_what_one_inclusion_takes_off_the_other_does_not_put_back() -> None:
    """Found by the full name, at its line in the shared file."""
    steps = "shared: {0}\ntitle: Cap {0}\nsource: x\nsteps:\n  - {1}\n"
    files = {
        "shared/off.yaml": steps.format("out", "{step: a, do: Lift it., off: [{item: cap}]}"),
        "shared/on.yaml": steps.format("in-again", "{step: b, do: Fit it., back: [{item: cap}]}"),
    }
    lines = ["{include: shared/off.yaml, name: left}", "{include: shared/on.yaml, name: right}"]
    (finding,) = refused(twice(*lines), files)
    assert (finding.code, finding.file, finding.line) == (
        "back-without-off", "shared/on.yaml", 5,
    )  # fmt: skip
    assert '"right cap"' in finding.message


def test_a_cap_left_off_in_one_inclusion_is_proved() -> None:
    """The proof names the one that is missing; the other is back."""
    plain = BLEED.replace("    back: [{item: reservoir cap}]\n", "")
    on = "{section: back, title: Back, steps: [{step: back, do: Fit it., back: [{item: %s}]}]}"
    lines = [
        "{include: shared/bleed.yaml, name: left}",
        "{include: shared/bleed.yaml, name: right}",
        on % "left reservoir cap",
    ]
    proof = prove_checklist(loaded(twice(*lines), {"shared/bleed.yaml": plain}))
    (broken,) = [one for one in proof.broken if one.code == "still-off"]
    assert broken.message.startswith('"right reservoir cap" came off')


@pytest.mark.parametrize(
    ("lines", "code", "said"),
    [
        (["{include: shared/bleed.yaml, name: left}"] * 2, "duplicate-include", "name of its own"),
        (
            ["{include: shared/bleed.yaml}", "{include: shared/bleed.yaml, name: left}"],
            "duplicate-include",
            "name of its own",
        ),
        (
            ["{include: shared/bleed.yaml, name: a b}", "{include: shared/bleed.yaml, name: a-b}"],
            "duplicate-include",
            "name of its own",
        ),
        (["{include: shared/bleed.yaml, name: Left}"], "bad-value", "name"),
        (["{include: shared/bleed.yaml, name: ''}"], "bad-value", "name"),
        (["{include: shared/bleed.yaml}"], "unknown-placeholder", "name: left"),
        (
            [f"{{include: shared/bleed.yaml, name: a{n}}}" for n in range(21)],
            "duplicate-include",
            "more than 20",
        ),
    ],
)
def test_inclusions_that_can_not_be_told_apart_are_refused(
    lines: list[str], code: str, said: str
) -> None:
    """The finding says what to write."""
    found = [one for one in refused(twice(*lines), FILES) if one.code == code]
    assert found
    assert said in found[0].message


def test_the_files_count_once_in_the_digest() -> None:
    """However often a section is included, its file is one."""
    assert [source.name for source in both().sources] == ["small.yaml", "shared/bleed.yaml"]


def test_a_single_inclusion_without_a_name_is_as_before() -> None:
    """No name, no prefix: recorded jobs find their steps again."""
    plain = BLEED.replace(" {name}", "")
    steps = expand(loaded(twice("{include: shared/bleed.yaml}"), {"shared/bleed.yaml": plain}), {})
    assert [step.id for step in steps.steps] == ["cap-off", "nipple", "cap-on", "hold"]
    assert steps.steps[0].step.do == "Take the reservoir cap off."
