"""What a checklist must make sense in: each rule is broken once and kept once."""

from __future__ import annotations

import pytest

from assistant.checklist.loader import load
from assistant.checklist.numerals import numbers_without_unit
from assistant.checklist.rules import findings
from tests.checklist.making import HEAD, checklist, loaded
from tests.job.bench import HEAD as BENCH_HEAD

PHRASES = ("step complete", "done and checked", "affirm")


def found(steps: str, head: str = HEAD) -> list[tuple[str, str]]:
    """Level and code of each finding."""
    return [(f.level, f.code) for f in findings(loaded(checklist(steps, head)), PHRASES)]


GOOD = """\
- step: drain-plug
  do: Take the drain plug out and let the oil run into the pan.
  fastener: {name: drain plug, thread: M14 × 1.5, length: 20 mm}
  torque: {value: 24 N·m, stages: [10 N·m, 11 lbf·ft], source: sheet 4}
  parts: [{name: crush washer, single_use: true}]
  off: [{item: drain plug}, {item: crush washer}]
  back: [{item: drain plug}, {item: crush washer, new: true}]
  readings: [{name: oil level, unit: mL, at_least: 0.5 L, at_most: 600 mL}]
  hold: {time: 30 s, what: no drip}
  reopens: [drain-plug]
"""


def test_a_step_that_makes_sense_has_no_finding() -> None:
    """Every rule's good side at once."""
    assert found(GOOD) == []


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("M14 × 1.5", "M14 × 1.4", ("error", "bad-thread")),
        ("M14 × 1.5", "fourteen", ("error", "bad-thread")),
        ("length: 20 mm", "length: 20 s", ("error", "wrong-dimension")),
        ("value: 24 N·m", "value: 24 mm", ("error", "wrong-dimension")),
        ("[10 N·m, 11 lbf·ft]", "[10 V]", ("error", "wrong-dimension")),
        ("[10 N·m, 11 lbf·ft]", "[24 N·m]", ("error", "stages-not-rising")),
        ("[10 N·m, 11 lbf·ft]", "[16 N·m, 11 lbf·ft]", ("error", "stages-not-rising")),
        ("stages: [10 N·m, 11 lbf·ft]", "stages: [0 N·m]", ("error", "torque-not-positive")),
        ("time: 30 s", "time: 30 V", ("error", "wrong-dimension")),
        ("  fastener: {name: drain plug, thread: M14 × 1.5, length: 20 mm}\n", "",
         ("error", "torque-without-fastener")),
        ("unit: mL", "unit: mm", ("error", "wrong-dimension")),
        ("at_least: 0.5 L", "at_least: 0.7 L", ("error", "limits-reversed")),
        (", at_least: 0.5 L, at_most: 600 mL", "", ("warning", "reading-without-limits")),
        ("crush washer, new: true", "crush washer", ("error", "single-use")),
        (", single_use: true", "", ("warning", "single-use-unmarked")),
        ("reopens: [drain-plug]", "reopens: [drian-plug]", ("error", "unknown-step")),
        ("reopens: [drain-plug]", "optional: true", ("error", "optional-off-list")),
        ("no drip", "no drip step complete", ("error", "confirming-phrase")),
        ("into the pan.", "into the pan. Affirm!", ("error", "confirming-phrase")),
        ("Take the", "Wait 30. Take the", ("warning", "number-without-unit")),
    ],
)  # fmt: skip
def test_each_rule_finds_what_breaks_it(old: str, new: str, expected: tuple[str, str]) -> None:
    """Changing one thing in the good step gives the one kind of finding that belongs to it."""
    assert old in GOOD
    assert set(found(GOOD.replace(old, new))) == {expected}


def test_stages_in_two_units_are_told_in_one() -> None:
    """11 lbf·ft is 14.9 N·m (NIST SP 811), which is less than the 16 N·m before it."""
    text = checklist(GOOD.replace("[10 N·m, 11 lbf·ft]", "[16 N·m, 11 lbf·ft]"))
    (finding,) = findings(loaded(text), PHRASES)
    assert "11 lbf·ft follows 16 N·m, which is 11.8 lbf·ft" in finding.message


def test_findings_stand_in_their_lines() -> None:
    """A wrong stage, limit or thread is shown where it is written, not where the step begins."""
    text = checklist(GOOD.replace("1.5", "1.4").replace("0.5 L", "0.7 L"))
    lines = {f.code: f.line for f in findings(loaded(text))}
    at = text.splitlines()
    assert "thread: M14" in at[lines["bad-thread"] - 1]
    assert "at_least" in at[lines["limits-reversed"] - 1]


def test_a_part_marked_single_use_goes_back_only_as_new() -> None:
    """The mark counts, not only the name."""
    step = (
        "- {step: a, do: X., parts: [{name: bellows clip, single_use: true}], "
        "off: [{item: bellows clip}], back: [{item: bellows clip}]}\n"
    )
    assert found(step) == [("error", "single-use")]


def test_a_word_inside_another_is_no_phrase() -> None:
    """A text that holds a phrase only inside longer words does not confirm."""
    assert found("- {step: a, do: The reaffirmed setting., why: step completes}\n") == []


OPTIONS = """\
options:
  abs: {ask: Is ABS fitted?, default: false}
  grips: {ask: Which grips?, values: [plain, heated], default: plain}
"""


def test_steps_that_never_apply_and_choices_without_steps_are_found() -> None:
    """A section and a step that exclude each other, and a choice that leaves nothing to do."""
    text = HEAD + OPTIONS + (
        "sections:\n  - section: a\n    title: A\n    when: {abs: true}\n    steps:\n"
        "      - {step: one, do: X.}\n"
        "      - {step: two, do: Y., when: {abs: false}}\n"
    )  # fmt: skip
    assert [(f.level, f.code) for f in findings(loaded(text))] == [
        ("error", "no-step"),
        ("warning", "never-applies"),
    ]


def test_too_many_choices_are_one_finding() -> None:
    """Thirteen yes-or-no options that all matter are more than can be gone through."""
    options = "options:\n" + "".join(f"  o{n}: {{ask: A?, default: false}}\n" for n in range(13))
    steps = "".join(f"- {{step: s{n}, do: X., when: {{o{n}: true}}}}\n" for n in range(13))
    assert found(steps, HEAD + options) == [("error", "too-many-options")]


def test_texts_that_the_voice_cannot_word_are_found() -> None:
    """Every spoken text is handed to the wording, with its line; names for paper are not."""
    heard: list[str] = []

    def unspeakable(text: str) -> str | None:
        heard.append(text)
        return 'the sign "§" has no word' if "§" in text else None

    text = checklist(
        "- {step: a, do: Turn § once., why: W., consumables: [rag], hazard_reason: R.}\n"
    )
    (finding,) = findings(loaded(text), unspeakable=unspeakable)
    assert (finding.code, finding.line) == ("unspeakable", 12)
    assert {"Small job", "Only section", "On the stand.", "W.", "rag"} <= set(heard)
    assert not {"Written for a test.", "R.", "small", "a"} & set(heard)


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("Tighten to 22.", ("22",)),
        ("Turn it 3 and stop.", ("3",)),
        ("Set the gap to 0.8 or so.", ("0.8",)),
        ("Tighten to 22 N·m.", ()),
        ("Leave 2 to 3 mm of play.", ()),
        ("Leave between 2 and 3 of play.", ("2", "3")),
        ("Take the 4 bolts out.", ()),
        ("Cut 1 1/2 in off.", ()),
        ("Use the T27 and the M8 × 1.25 bolt, 3/8-16 UNC.", ()),
        ("Fill with DOT 4 fluid from page 3.", ()),
        ("Fill to 80%.", ()),
        ("Turn by 90° and by 1/4 turn.", ()),
    ],
)
def test_numbers_without_unit(text: str, numbers: tuple[str, ...]) -> None:
    """A number that has no unit, counts nothing and names nothing is told."""
    assert numbers_without_unit(text) == numbers


def test_an_interlock_names_repeated_items_as_they_come_off() -> None:
    """The name with {each} filled in is what the job's off-list holds; the other never blocks."""
    text = BENCH_HEAD.replace(
        "sections:",
        "interlocks:\n"
        "  - {interlock: bolts, says: Bolts are off., blocks: [look], while_off: [ITEM]}\n"
        "sections:",
    ) + (
        '      - step: bolts-off\n        do: "Undo the {each} bolts."\n'
        "        each: [left, right]\n"
        '        off: [{item: "{each} bolts"}]\n'
        '      - step: bolts-on\n        do: "Bolt the {each} side."\n        each: [left, right]\n'
        '        back: [{item: "{each} bolts"}]\n'
        '      - step: look\n        do: "Look."\n'
    )
    for item, codes in (('"left bolts"', []), ('"{each} bolts"', ["unknown-item"])):
        whole = load({"small.yaml": text.replace("ITEM", item)}, "small.yaml")
        assert [f.code for f in findings(whole) if f.level == "error"] == codes
