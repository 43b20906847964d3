"""The guide for authors is true: its examples load, make sense, and meet the stops it names."""

from __future__ import annotations

import re
from pathlib import Path

from jsonschema import Draft202012Validator

from assistant.checklist.expand import expand, option_sets
from assistant.checklist.loader import load
from assistant.checklist.model import Step
from assistant.checklist.positions import plain, read_yaml
from assistant.checklist.rules import findings
from assistant.checklist.schema import json_schema
from assistant.safety.hazards import Stop
from assistant.safety.placement import place_stops

GUIDE = (Path(__file__).parents[2] / "checklists" / "README.md").read_text(encoding="utf-8")
WHOLE, SHARED, INCLUDING, TWICE = re.findall(r"```yaml\n(.*?)```", GUIDE, re.DOTALL)


def test_the_example_loads_and_makes_sense() -> None:
    """Not even a warning on any choice of options."""
    assert findings(load({"front-brake-line.yaml": WHOLE}, "front-brake-line.yaml")) == ()


def test_the_stops_fall_where_the_guide_says() -> None:
    """Open before the first step, proven after the last, once more before the release."""
    loaded = load({"front-brake-line.yaml": WHOLE}, "front-brake-line.yaml")
    for options in option_sets(loaded, 10):
        placed = place_stops(expand(loaded, options))
        assert [(p.stop, p.before and p.before.id) for p in placed] == [
            (Stop.BRAKE_OPEN, "line-drain"),
            (Stop.BRAKE_PROVEN, None),
            (Stop.RELEASE, None),
        ]


def test_the_shared_example_can_be_included_as_shown() -> None:
    """The two snippets fit together."""
    head = WHOLE[: WHOLE.index("sections:")]
    files = {"a.yaml": head + INCLUDING, "shared/look-around.yaml": SHARED}
    (section,) = load(files, "a.yaml").sections
    assert section.section.title == "Look around"
    assert section.section.when == {"abs": True}


def test_the_section_for_two_sides_can_be_included_as_shown() -> None:
    """Its steps are named as the guide says."""
    head = WHOLE[: WHOLE.index("sections:")]
    shared = "shared: b\ntitle: Bleed\nsource: s\nsteps: [{step: bleed, do: Bleed it.}]\n"
    files = {"a.yaml": head + TWICE, "shared/bleed-circuit.yaml": shared}
    steps = expand(load(files, "a.yaml"), {}).steps
    assert [(step.id, step.step.do) for step in steps] == [
        ("left-bleed", "Left: Bleed it."),
        ("right-bleed", "Right: Bleed it."),
    ]


def test_editors_take_the_examples() -> None:
    """The JSON Schema named in their first lines accepts them."""
    validator = Draft202012Validator(json_schema())
    for text in (WHOLE, SHARED):
        assert text.startswith("# yaml-language-server: $schema=")
        document = plain(read_yaml(text, "x").root)
        assert not list(validator.iter_errors(_lists(document)))


def test_every_key_of_a_step_is_in_the_guide() -> None:
    """A key that the model gains is explained, or this fails."""
    table = GUIDE[GUIDE.index("## Steps") : GUIDE.index("**Signal words**")]
    named = set(re.findall(r"`(\w+)`", table))
    assert set(Step.model_fields) <= named


def _lists(value: object) -> object:
    """Tuples as lists, which is what JSON has."""
    if isinstance(value, dict):
        return {key: _lists(one) for key, one in value.items()}
    return [_lists(one) for one in value] if isinstance(value, tuple) else value
