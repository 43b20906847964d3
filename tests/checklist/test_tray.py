"""The tray: each thing once, with its sizes, counts and settings."""

from __future__ import annotations

import re
import textwrap
from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from assistant import shelf
from assistant.checklist.expand import expand, option_sets
from assistant.checklist.loader import load
from assistant.checklist.plan import Plan
from assistant.checklist.tray import Tray, lay_out
from assistant.trade.quantity import Quantity
from tests.job.bench import HEAD


def tray(steps: str) -> Tray:
    """The tray of these steps."""
    text = HEAD + textwrap.indent(textwrap.dedent(steps), "      ")
    return lay_out(expand(load({"small.yaml": text}, "small.yaml"), {}))


def test_sizes_of_one_kind_lie_together() -> None:
    """Sockets with sockets, keys with keys; a hexalobular bit by its number; others by name."""
    laid = tray("""\
        - step: one
          do: "Undo it."
          fastener: {name: bolt, drive: "10 mm socket"}
        - step: two
          do: "Undo it."
          fastener: {name: bolt, drive: "9/16 in socket"}
        - step: three
          do: "Undo it."
          fastener: {name: screw, drive: "T27"}
        - step: four
          do: "Measure it."
          driver: "steel ruler"
        - step: five
          do: "Undo it."
          fastener: {name: bolt, drive: "10 mm socket"}
        """)
    assert [(t.name, t.sizes, t.steps) for t in laid.drivers] == [
        ("socket", ("10 mm", "9/16 in"), ("one", "two", "five")),
        ("hexalobular bit", ("T27",), ("three",)),
        ("steel ruler", (), ("four",)),
    ]


def test_every_tool_of_a_line_is_on_the_tray() -> None:
    """What stands after the comma is fetched too, and sizes of one kind still lie together."""
    laid = tray("""\
        - step: one
          do: "Drain it."
          driver: "17 mm socket, drain pan"
        - step: two
          do: "Undo it."
          driver: "long bar, 30 mm socket"
        - step: three
          do: "Undo it."
          driver: "8 mm hex bit, long; drain pan"
        """)
    assert [(t.name, t.sizes, t.steps) for t in laid.drivers] == [
        ("socket", ("17 mm", "30 mm"), ("one", "two")),
        ("drain pan", (), ("one", "three")),
        ("long bar", (), ("two",)),
        ("hex bit, long", ("8 mm",), ("three",)),
    ]


def test_a_crowfoot_changes_the_setting() -> None:
    """100 N·m through a 50 mm crowfoot on a 200 mm wrench is set to 80 N·m.

    S = T · L / (L + E), US Army TM 1-1500-204-23-9: 100 · 200 / 250 = 80.
    """
    laid = tray("""\
        - step: one
          do: "Tighten it."
          fastener: {name: bolt, drive: "14 mm crowfoot"}
          torque:
            value: "100 N·m"
            source: test notes
            wrench: {name: long wrench, most: "120 N·m", lever: "200 mm"}
            adapter: {name: 14 mm crowfoot, offset: "50 mm"}
        """)
    (setting,) = laid.torques
    assert setting.value == Quantity.parse("100 N·m")
    assert setting.set_to == Quantity.parse("80 N·m")
    assert (setting.wrench, setting.adapter) == ("long wrench", "14 mm crowfoot")


def test_the_setting_is_in_the_wrench_own_unit() -> None:
    """20 lbf·ft on a wrench in N·m: 27.1 (1 lbf·ft = 1.355 817 948 N·m, NIST SP 811 B.9)."""
    laid = tray("""\
        - step: one
          do: "Tighten it."
          fastener: {name: bolt, drive: "9/16 in socket"}
          torque:
            value: "20 lbf·ft"
            source: test notes
            wrench: {name: small wrench, most: "50 N·m"}
        """)
    assert laid.torques[0].set_to == Quantity(Fraction("27.1"), Quantity.parse("1 N·m").unit)


def test_a_part_that_is_only_held_up_is_not_fetched_twice() -> None:
    """It is counted where it goes on; washers of two joints add up."""
    laid = tray("""\
        - step: hold-up
          do: "Hold the line up."
          parts: [{name: line, number: WL-1}]
        - step: line-off
          do: "Take it off."
          off: [{item: line}, {item: washers, count: 4}]
        - step: top
          do: "Bolt the line on."
          parts: [{name: line, number: WL-1}, {name: crush washer, count: 2, single_use: true}]
          back: [{item: line, new: true}, {item: washers, count: 2, new: true}]
        - step: bottom
          do: "Bolt the line on."
          parts: [{name: crush washer, count: 2, single_use: true}]
          back: [{item: washers, count: 2, new: true}]
        """)
    assert [(p.name, p.count, p.steps, p.single_use) for p in laid.parts] == [
        ("line", 1, ("hold-up", "top"), False),
        ("crush washer", 4, ("top", "bottom"), True),
    ]


def shipped() -> list[Plan]:
    """Every shipped checklist on each choice of options."""
    files = sorted(shelf.checklists_folder().glob("*.yaml"))
    return [
        expand(loaded, options)
        for loaded in map(shelf.load_checklist, files)
        for options in option_sets(loaded, 8)
    ]


PLANS = shipped()


@given(st.sampled_from(PLANS))
def test_nothing_that_a_step_names_is_missing(plan: Plan) -> None:
    """Each step's part, consumable and torque is on the tray, under that step."""
    laid = lay_out(plan)
    parts = {(p.name, step) for p in laid.parts for step in p.steps}
    used = {(c.name, step) for c in laid.consumables for step in c.steps}
    torques = {(t.value, step) for t in laid.torques for step in t.steps}
    tools = {
        (f"{size} {tool.name}" if size else tool.name, step)
        for tool in laid.drivers
        for size in tool.sizes or ("",)
        for step in tool.steps
    }
    with_tool = {step for _, step in tools}
    for planned in plan.steps:
        step = planned.step
        assert {(p.name, planned.id) for p in step.parts} <= parts
        assert {(c, planned.id) for c in step.consumables} <= used
        if step.torque is not None:
            assert (step.torque.value, planned.id) in torques
        if step.driver or (step.fastener and step.fastener.drive):
            assert planned.id in with_tool
        for clause in re.split(r"[,;] ", step.driver) if step.driver else ():
            assert any(clause in tool for tool, where in tools if where == planned.id)
