"""What the trade's arithmetic does not find: everything that a maker or an author means so."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assistant import packaged
from assistant.checklist.trade_sense import findings
from assistant.checklist.trade_words import load_trade_words
from assistant.errors import BadFile
from assistant.trade.quantity import UNITS, Quantity
from tests.checklist.making import HEAD, checklist, loaded

TABLES, WORDS = packaged.trade_tables(), packaged.trade_words("en")


def found(steps: str, head: str = HEAD) -> list[str]:
    """The code of each finding."""
    return [f.code for f in findings(loaded(checklist(steps, head)), TABLES, WORDS)]


GOOD = """\
- step: tighten
  do: Tighten the riser bolts.
  fastener: {name: riser bolt, thread: M8, head: hex, drive: 13 mm socket, grade: "8.8", count: 4}
  driver: torque wrench with 13 mm crowfoot, square to the handle
  torque:
    value: 22 N·m
    stages: [10 N·m, 16 N·m]
    source: service manual, page 7-12
    wrench: {name: middle wrench, least: 5 N·m, most: 50 N·m, lever: 300 mm}
    adapter: {name: 13 mm crowfoot, offset: 30 mm, angle: 90°}
  fluid: {grade: DOT 4, into: front circuit}
  readings:
    - {name: bolt torque, unit: N·m, at_least: 21 N·m, at_most: 23 N·m}
    - {name: battery voltage, unit: V, at_least: 12.4 V, at_most: 13.2 V, condition: key off}
    - {name: oil temperature, unit: °C, at_least: "-20 °C", at_most: 40 °C}
    - {name: vacuum, unit: kPa, at_least: "-90 kPa", at_most: "-20 kPa"}
"""


def test_a_step_as_the_trade_does_it_has_no_finding() -> None:
    """Every rule's good side at once."""
    assert found(GOOD) == []


@pytest.mark.parametrize(
    ("old", "new", "codes"),
    [
        ("13 mm socket", "1/2 in socket", "driver-does-not-fit driver-rounds-off"),
        ("with 13 mm", "with 1/2 in", "driver-does-not-fit"),
        ("with 13 mm", "with 17/32 in", "driver-rounds-off"),  # 13.49 mm
        ("value: 22 N·m", "value: 27 N·m", "torque-high reading-excludes-torque"),
        ('grade: "8.8"', 'grade: "4.8"', "torque-too-high"),
        ('grade: "8.8"', "grade: A2-50", "torque-too-high"),
        ('grade: "8.8"', 'grade: "8.8", into: aluminum', "torque-for-steel"),
        ('grade: "8.8"', 'grade: "8.8", into: plastic', "torque-for-steel"),
        ("most: 50 N·m", "most: 20 N·m", "wrench-range"),
        ("most: 50 N·m", "most: 3 N·m", "bad-wrench"),
        ("most: 50 N·m", "most: 50 mm", "bad-wrench"),
        ("angle: 90°", "angle: 90 mm", "bad-adapter"),
        ("offset: 30 mm, angle: 90°", "offset: 300 mm, angle: 180°", "bad-adapter"),
        ("least: 5 N·m, most: 50 N·m", "most: 120 N·m", "wrench-range"),
        (", lever: 300 mm", "", ""),  # square to the handle changes nothing
        ("16 N·m]", "21.5 N·m]", "stages-too-close"),
        ("16 N·m]", "12 lbf·ft]", "two-torque-units"),
        ("service manual, page 7-12", "tbd", "torque-without-source"),
        ("service manual, page 7-12", "Handbook", "torque-from-table"),
        ("service manual, page 7-12", "service manual, torque table 7-2", ""),
        ("at_least: 21 N·m", "at_least: 22.1 N·m", "reading-excludes-torque"),
        ("at_most: 23 N·m", "at_most: 22.5 N·m", "reading-narrower-than-tool"),
        ("at_least: 12.4 V", "at_least: 13.5 V", "reading-impossible"),
        ("-20 °C", "-274 °C", "reading-impossible"),
        ("-90 kPa", "-110 kPa", "reading-impossible"),
        ("key off", "engine running", "reading-impossible"),
        ("thread: M8", "thread: M25", ""),  # no thread: another rule tells it
        ("head: hex", "head: banjo", ""),  # no standard head
        ("do: Tighten", "do: Top up with DOT 5 and tighten", "fluids-must-not-mix"),
        ("do: Tighten", "do: Top up with DOT 5.1 and tighten", "fluids-of-two-grades"),
    ],
)
def test_each_rule_finds_what_breaks_it(old: str, new: str, codes: str) -> None:
    """One change in the good step gives the kinds of finding that belong to it, or none."""
    assert old in GOOD
    assert set(found(GOOD.replace(old, new, 1))) == set(codes.split())


@pytest.mark.parametrize(
    ("torque", "level"),
    [("17 N·m", None), ("18 N·m", "warning"), ("23 N·m", "warning"), ("24 N·m", "error")],
)
def test_aluminum_takes_thirty_percent_off_both_limits(torque: str, level: str | None) -> None:
    """M8 8.8 bears 25.5 N·m for reuse and 34 N·m at its proof load: 17.8 and 23.8 in aluminum."""
    step = (
        '- {step: a, do: Tighten it., fastener: {name: bolt, thread: M8, grade: "8.8", '
        f"into: aluminum}}, torque: {{value: {torque}, source: sheet 4}}}}\n"
    )
    told = findings(loaded(checklist(step)), TABLES, WORDS)
    assert [f.level for f in told] == ([level] if level else [])


def test_the_maker_s_value_wins() -> None:
    """A fastener that is special is compared with no table, whatever it gets."""
    step = GOOD.replace("13 mm socket", "14 mm socket").replace("value: 22", "value: 40")
    step = step.replace("with 13 mm", "with 14 mm").replace("at_most: 23", "at_most: 43")
    step = step.replace("at_least: 21", "at_least: 37")
    assert set(found(step)) == {"driver-does-not-fit", "torque-too-high"}
    special = 'grade: "8.8", special: "stretch bolt with a small head, manual page 7-12"'
    assert found(step.replace('grade: "8.8"', special)) == []


OPTION = HEAD + "options:\n  abs: {ask: Is ABS fitted?, default: false}\n"
TWO = """\
- step: one
  do: Put the left cover on.
  when: {abs: false}
  fastener: {name: left screw, thread: M6, head: button, drive: 4 mm hex key}
  consumables: [DOT 4]
- step: two
  do: Put the right cover on.
  when: {abs: true}
  fastener: {name: right screw, thread: 1/4-20 UNC, head: button, drive: 5/32 in hex key}
  consumables: [DOT 5]
"""


def test_what_no_vehicle_has_both_of_is_not_compared() -> None:
    """Look-alikes and fluids of steps that exclude each other never meet."""
    assert found(TWO, OPTION) == []
    both = TWO.replace("  when: {abs: false}\n", "").replace("  when: {abs: true}\n", "")
    assert set(found(both)) == {"look-alike-threads", "fluids-must-not-mix"}


def test_a_look_alike_that_the_author_tells_apart_is_none() -> None:
    """One of the texts names the other thread or driver."""
    both = TWO.replace("  when: {abs: false}\n", "").replace("  when: {abs: true}\n", "")
    both = both.replace("DOT 5", "DOT 4")
    assert found(both) == ["look-alike-threads"]
    told = both.replace("right cover on.", "right cover on. The screws are not the M6x1 ones.")
    assert found(told) == []


@pytest.mark.parametrize(
    ("thread", "head", "drive"),
    [
        ("1/4-20 UNC", "hex", "7/16 in socket"),  # another head
        ("5/16-18 UNC", "button", "3/16 in hex key"),  # too thick
        ("M6", "button", "4 mm hex key"),  # the same
        ("1/4-20 UNC", "button", "T27"),  # another driver
    ],
)
def test_what_does_not_look_alike(thread: str, head: str, drive: str) -> None:
    """Head, diameter and driver must all be nearly the same."""
    step = TWO.replace("  when: {abs: false}\n", "").replace("  when: {abs: true}\n", "")
    step = step.replace("DOT 5", "DOT 4").replace("1/4-20 UNC", thread)
    step = step.replace("head: button, drive: 5/32 in hex key", f"head: {head}, drive: {drive}")
    assert found(step) == []


def test_fluids_of_two_systems_do_not_meet() -> None:
    """A brake with DOT 4 and a clutch with mineral oil, each named."""
    steps = (
        "- {step: a, do: Fill it., fluid: {grade: DOT 4, into: front brake}}\n"
        "- {step: b, do: Fill it., fluid: {grade: mineral brake oil, into: clutch}}\n"
    )
    assert found(steps) == []
    assert found(steps.replace("into: clutch", "into: Front brake")) == ["fluids-must-not-mix"]


def test_warnings_about_what_is_not_done_are_no_fluid() -> None:
    """A caution may name the fluid that must not go in."""
    steps = (
        "- {step: a, do: Fill with DOT 4., "
        "cautions: [{signal: WARNING, text: Never DOT 5.}], why: DOT 5 is silicone.}\n"
    )
    assert found(steps) == []


texts = st.sampled_from([
    "M8", "M6 × 0.75", "3/8-16 UNC", "#10-32", "x", "hex", "button", "socket cap", "8.8", "08.8",
    "SAE grade 8", "A2-70", "9/16 in socket", "4 mm hex key", "T27", "0 mm socket", "1/0 in socket",
    "DOT 4", "DOT 5", "battery", "charging", "soft lead", "tbd", "page 3",
])  # fmt: skip
quantities = st.builds(
    lambda value, unit: f'"{Quantity(value, unit)}"',
    st.fractions(min_value=-10, max_value=300, max_denominator=8),
    st.sampled_from(UNITS),
)


@settings(max_examples=60)
@given(st.lists(texts, min_size=9, max_size=9), st.lists(quantities, min_size=10, max_size=10))
def test_nothing_that_loads_breaks_a_rule(words: list[str], q: list[str]) -> None:
    """Whatever the values: there are findings or none, never an exception."""
    w = [f'"{word}"' for word in words]
    step = f"""\
- step: a
  do: {w[0]}
  fastener: {{name: {w[1]}, thread: {w[2]}, head: {w[3]}, drive: {w[4]}, grade: {w[5]}}}
  driver: {w[6]}
  torque:
    value: {q[0]}
    stages: [{q[1]}]
    source: {w[7]}
    trap: {w[1]}
    wrench: {{name: x, most: {q[2]}, least: {q[3]}, lever: {q[4]}}}
    adapter: {{name: y, offset: {q[5]}, angle: {q[6]}}}
  fluid: {{grade: {w[8]}, into: {w[0]}}}
  readings: [{{name: {w[8]}, unit: N·m, at_least: {q[7]}, at_most: {q[8]}, condition: {w[7]}}},
             {{name: battery, unit: V, at_least: {q[9]}, condition: {w[8]}}}]
"""
    for finding in findings(
        loaded(checklist(step + step.replace("step: a", "step: b"))), TABLES, WORDS
    ):
        assert finding.line > 0


def test_words_are_checked_when_they_are_read() -> None:
    """A drive that there is none of is told with its line."""
    with pytest.raises(BadFile, match="drivers"):
        load_trade_words("language: en\ndrivers: {socket: square}\n", "words.yaml")
