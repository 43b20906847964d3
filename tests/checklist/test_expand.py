"""Options, repeats and shared sections to the plan of one job."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.checklist.expand import (
    candidates,
    expand,
    option_sets,
    options_text,
    read_option,
)
from assistant.errors import BadInput
from tests.checklist.making import HEAD, checklist, loaded

OPTIONS = """\
options:
  abs:
    ask: Is ABS fitted?
    default: false
  grips:
    ask: Which grips?
    values: [plain, heated, quick]
    default: heated
  unused:
    ask: Is it blue?
    default: true
"""
TEXT = (
    HEAD
    + OPTIONS
    + """\
sections:
  - section: switches
    title: The {each} switch
    each: [left, upper right]
    steps:
      - step: unplug
        do: Unplug the {each} switch.
        off: [{item: "{each} plug"}]
      - step: look
        do: Look at the wires.
        when: {abs: true}
        reopens: [unplug]
  - section: brake
    title: Brake
    when: {abs: true}
    steps:
      - step: bleed
        do: Bleed it.
        when: {grips: plain}
  - section: bolts
    title: Bolts
    steps:
      - step: tighten
        do: Tighten the {each} bolt.
        each: [front, rear]
        parts: [{name: "{each} washer", number: A-1}]
        reopens: [unplug, bleed]
"""
)


def test_defaults_choose_the_steps() -> None:
    """Steps whose options don't hold are not in the plan, and numbers run over those that are."""
    plan = expand(loaded(TEXT), {})
    assert plan.options == {"abs": False, "grips": "heated", "unused": True}
    assert [(step.number, step.id) for step in plan.steps] == [
        (1, "unplug.left"),
        (2, "unplug.upper-right"),
        (3, "tighten.front"),
        (4, "tighten.rear"),
    ]


def test_section_and_step_conditions_must_both_hold() -> None:
    """A step in a conditional section applies when the section's and its own options hold."""
    ids = [step.id for step in expand(loaded(TEXT), {"abs": True, "grips": "plain"}).steps]
    assert "bleed" in ids
    assert "bleed" not in [s.id for s in expand(loaded(TEXT), {"grips": "plain"}).steps]


def test_repeats_are_filled_in_everywhere() -> None:
    """{each} is replaced in texts, parts and off-list; the title says the side."""
    plan = expand(loaded(TEXT), {})
    first, last = plan.steps[1], plan.steps[3]
    assert first.step.do == "Unplug the upper right switch."
    assert first.step.off[0].item == "upper right plug"
    assert first.section_title == "The upper right switch"
    assert first.section == "switches.upper-right"
    assert last.step.parts[0].name == "rear washer"
    assert last.step.each == ()
    assert last.step.when == {}
    assert (last.file, last.line) == (
        "small.yaml",
        TEXT.splitlines().index("      - step: tighten") + 1,
    )


def test_reopened_steps_are_those_of_the_plan() -> None:
    """The same side is reopened where both repeat alike, else all; absent steps are left out."""
    steps = {s.id: s.step for s in expand(loaded(TEXT), {"abs": True}).steps}
    assert steps["look.left"].reopens == ("unplug.left",)
    assert steps["tighten.front"].reopens == ("unplug.left", "unplug.upper-right")


def test_a_title_without_a_place_for_the_side_gets_it_at_the_end() -> None:
    """Two repeats of a section are never announced alike."""
    plan = expand(loaded(TEXT.replace("title: The {each} switch", "title: Switch")), {})
    assert plan.steps[0].section_title == "Switch, left"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"asb": True}, 'did you mean "abs"?'),
        ({"abs": "yes"}, "one of: yes, no"),
        ({"grips": "warm"}, "one of: plain, heated, quick"),
        ({"grips": True}, "one of: plain, heated, quick"),
    ],
)
def test_an_option_that_does_not_exist_is_refused(
    options: dict[str, bool | str], said: str
) -> None:
    """The message names the options or values that do exist."""
    with pytest.raises(BadInput, match=r"small\.yaml") as error:
        expand(loaded(TEXT), options)
    assert said in str(error.value)


def test_options_are_typed_as_name_and_value() -> None:
    """As the command line has them: yes and no for facts, the word for choices."""
    checklist_ = loaded(TEXT)
    assert read_option(checklist_, "abs=yes") == ("abs", True)
    assert read_option(checklist_, "abs=False") == ("abs", False)
    assert read_option(checklist_, "grips=plain") == ("grips", "plain")
    for wrong in ("abs", "abs=perhaps", "grips=", "=yes", "asb=yes"):
        with pytest.raises(BadInput):
            read_option(checklist_, wrong)


def test_a_plan_without_steps_is_refused() -> None:
    """A job of nothing is a mistake in the options."""
    text = checklist("- {step: a, do: X., when: {abs: true}}\n", HEAD + OPTIONS)
    with pytest.raises(BadInput, match="no step applies with abs=no"):
        expand(loaded(text), {})


def test_all_choices_that_matter_are_gone_through() -> None:
    """Against itertools: every combination of the options asked for, the defaults first."""
    sets = list(option_sets(loaded(TEXT), 100))
    assert sets[0] == {"abs": False, "grips": "heated", "unused": True}
    expected = itertools.product([True, False], ["plain", "heated", "quick"])
    assert {(s["abs"], s["grips"]) for s in sets} == set(expected)
    assert len(sets) == 6
    assert options_text(sets[0]) == "abs=no, grips=heated, unused=yes"


def test_more_choices_than_the_bound_are_refused() -> None:
    """The number of choices is counted before any of them is made."""
    with pytest.raises(BadInput, match="6 ways"):
        next(option_sets(loaded(TEXT), 5))


@given(st.booleans(), st.sampled_from(["plain", "heated", "quick"]))
def test_a_plan_is_the_candidates_that_apply(fitted: bool, grips: str) -> None:
    """For every choice: same steps, same order, unique ids, numbers from one without gaps."""
    whole = loaded(TEXT)
    options: dict[str, bool | str] = {"abs": fitted, "grips": grips, "unused": True}
    plan = expand(whole, options)
    assert [s.id for s in plan.steps] == [
        c.planned.id for c in candidates(whole) if c.applies(options)
    ]
    assert len({s.id for s in plan.steps}) == len(plan.steps)
    assert [s.number for s in plan.steps] == list(range(1, len(plan.steps) + 1))


def test_the_hash_changes_with_any_byte_and_with_no_option() -> None:
    """The stamp is of the files, not of the choices."""
    plan = expand(loaded(TEXT), {})
    assert plan.sha256 == expand(loaded(TEXT), {"abs": True}).sha256
    assert plan.sha256 != expand(loaded(TEXT + "\n"), {}).sha256
