"""What the kit check asks: groups in one or apart, in the order of the tray."""

from __future__ import annotations

import textwrap
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from assistant.checklist.tray import lay_out
from assistant.job.kit import Group, how_many, kit_groups, question
from assistant.job.state import JobState, Setting, ShopWrench
from assistant.trade.quantity import Quantity
from assistant.trade.wrenches import TorqueWrench
from tests.checklist.test_tray import PLANS
from tests.job.bench import HEAD, setting

KIT = HEAD + textwrap.indent(
    textwrap.dedent("""\
    - step: line-off
      do: "Take the line off."
      off: [{item: line}]
    - step: one
      do: "Bolt the line on."
      fastener: {name: bolt, drive: "10 mm socket"}
      torque: {value: "22 N·m", source: notes}
      parts: [{name: line, number: WL-BL-440}, {name: crush washer, count: 2, single_use: true}]
      consumables: [clean rags]
      back: [{item: line, new: true}]
    - step: two
      do: "Bolt the clamp on."
      driver: "12 mm socket"
      torque: {value: "9 N·m", source: notes}
      consumables: [grease]
    """),
    "      ",
)


def groups(fixed: Setting | None = None) -> tuple[Group, ...]:
    """The groups of the small kit."""
    return kit_groups(fixed or setting(KIT), JobState())


def keys(answers: list[bool]) -> list[str]:
    """Keys of what is asked after these answers."""
    asked = question(groups(), answers)
    return [said.key for said in asked.lines] if asked is not None else []


def test_a_group_is_asked_about_in_one() -> None:
    """Drivers, torque settings and things that are used up are read out, then one question."""
    assert keys([]) == ["tray.drivers", "tray.tool", "kit.ask_all"]
    assert keys([True]) == ["tray.torques", "tray.torque", "tray.torque", "kit.ask_all"]
    assert keys([True, True, True, True]) == [
        "tray.consumables",
        "tray.item",
        "tray.item",
        "kit.ask_all",
    ]


def test_where_not_all_of_it_is_there_each_size_is_asked_about() -> None:
    """Not all of the sockets there: first the 10 mm one, then the 12 mm one, then the torques."""
    first, second = question(groups(), [False]), question(groups(), [False, True])
    assert first is not None
    assert second is not None
    assert [said.key for said in first.lines] == ["kit.apart", "tray.item", "kit.ask"]
    assert (first.things[0].name, first.number) == ("10 mm socket", 1)
    assert (second.things[0].name, second.number) == ("12 mm socket", 2)
    assert keys([False, True, False])[0] == "tray.torques"


def test_parts_are_asked_about_one_by_one() -> None:
    """Each part with its count and number; where only new ones go on, that is said."""
    assert keys([True, True]) == ["tray.parts", "tray.numbered", "kit.ask"]
    assert keys([True, True, True]) == ["tray.part", "tray.new_only", "kit.ask"]


def test_one_thing_alone_is_no_group() -> None:
    """It is asked about by itself at once, and "no" means that it is missing."""
    text = KIT.replace("consumables: [grease]", "minutes: 3")
    asked = question(groups(setting(text)), [True, True, True, True])
    assert asked is not None
    assert [thing.name for thing in asked.things] == ["clean rags"]
    assert question(groups(setting(text)), [True, True, True, True, False]) is None


def test_the_shops_own_wrench_is_named() -> None:
    """The kit check names the wrench that the step will name, with its setting in its own unit.

    9 N·m are 79.7 lbf·in: 9 / 0.112 984 8 (NIST SP 811 B.8).
    """
    inch = TorqueWrench("little one", Quantity.parse("100 lbf·in"), Quantity.parse("20 lbf·in"))
    fixed = replace(setting(KIT), wrenches=(ShopWrench(inch),))
    torques = groups(fixed)[1]
    assert [said.key for said in torques.lines] == [
        "tray.torque",
        "wrench.none_fits",
        "tray.wrench",
    ]
    assert dict(torques.lines[-1].values)["setting"] == "79.7 lbf·in"
    assert [thing.name for thing in torques.things] == ["22 N·m", "little one"]


@given(st.sampled_from(PLANS), st.randoms(use_true_random=False))
def test_every_thing_of_the_tray_is_asked_about(plan: object, chance: object) -> None:
    """Whatever is answered, the check ends, and each part is asked about by name, once."""
    fixed = replace(setting(KIT), plan=plan)  # type: ignore[arg-type] # hypothesis draws plans
    found = kit_groups(fixed, JobState())
    answers: list[bool] = []
    parts: list[str] = []
    numbers: list[int] = []
    while (asked := question(found, answers)) is not None:
        numbers.append(asked.number)
        if asked.lines[-1].key == "kit.ask" and asked.things[0] in _parts(found):
            parts.append(asked.things[0].name)
        answers.append(chance.random() < 0.5)  # type: ignore[attr-defined] # as above
    assert sorted(parts) == sorted(part.name for part in lay_out(fixed.plan).parts)
    assert numbers == sorted(numbers)
    assert all(1 <= number <= how_many(found) for number in numbers)


def _parts(found: tuple[Group, ...]) -> tuple[object, ...]:
    return next((group.things for group in found if group.each), ())
