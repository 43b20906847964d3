"""Loading: good files become models, bad ones give every finding with its line."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest

from assistant.checklist.loader import included, load
from assistant.checklist.tags import SignalWord
from assistant.errors import BadFile
from assistant.trade.quantity import Quantity
from tests.checklist.making import HEAD, checklist, codes, loaded, refused

DATA = Path(__file__).parent / "data"
SHARED = """\
shared: proof
title: Proof
source: Written for a test.
steps:
  - step: hold-lever
    do: Hold the lever.
"""


def test_a_good_checklist_becomes_models() -> None:
    """Every kind of value arrives typed: quantities exact, tags and signal words as such."""
    step = loaded(
        checklist(
            """\
                - step: drain-plug
                  do: Tighten the drain plug.
                  fastener: {name: drain plug, thread: M14 × 1.5, length: 1/2 in}
                  torque: {value: 24 Nm, stages: [10 N·m], source: sheet 4}
                  cautions: [{signal: NOTICE, text: Soft thread.}]
                  readings: [{name: oil level, unit: ml, at_least: 20 mL}]
                  minutes: 3
                """
        )
    ).steps()[0][2]
    assert step.torque is not None
    assert step.torque.value == Quantity.parse("24 N·m")
    assert step.fastener is not None
    assert str(step.fastener.length) == "1/2 in"
    assert step.cautions[0].signal is SignalWord.NOTICE
    assert step.readings[0].unit == "mL"
    assert step.minutes == 3.0


def test_ten_mistakes_give_their_findings_in_the_marked_lines() -> None:
    """Each marked line has exactly its one finding, whatever is wrong elsewhere."""
    text = (DATA / "ten_mistakes.yaml").read_text(encoding="utf-8")
    marked = [n for n, line in enumerate(text.splitlines(), 1) if re.search(r"# \d+: ", line)]
    with pytest.raises(BadFile) as error:
        load({"data/ten_mistakes.yaml": text}, "data/ten_mistakes.yaml")
    assert [finding.line for finding in error.value.findings] == marked
    assert codes(error.value.findings) == [
        "wrong-type",
        "option-value",
        "unknown-option",
        "unknown-key",
        "bad-value",
        "missing-key",
        "duplicate-step",
        "ambiguous-word",
        "each-unused",
        "back-without-off",
        "duplicate-key",
        "wrong-type",
        "no-such-include",
    ]
    assert all(
        str(f).startswith(f"data/ten_mistakes.yaml:{f.line}: ") for f in error.value.findings
    )


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("fastner: {name: bolt}", 'there is no key "fastner" here; did you mean "fastener"?'),
        ("minutes: soon", 'minutes must be a number, not "soon"'),
        ("minutes: 0", 'minutes "0" is out of range: it must be greater than 0'),
        ("least_seconds: 2.5", "must be a whole number"),
        ("second_person: 1", 'second_person must be true or false, not "1"'),
        ("why: 12", 'why must be text, and 12 is not; put it in quotes: "12"'),
        ("why: [a, b]", "why must be text, not a list"),
        ('why: " "', "why is empty"),
        ('why: " spaced"', "begins or ends with a space"),
        ("consumables: rag", "must be a list"),
        ("hold: long", "must be keys with values under it"),
        ("hold: soon", '"soon"; at least time: and what:'),
        ("hold: {time: 30, what: lever}", "write a number with its unit as text, like 22 N·m"),
        ("hold: {time: 30 seks, what: lever}", "is not a unit known here; one of: N·m, lbf·ft"),
        ("side: top", 'side "top" is not one of: left, right, front, rear'),
        ("hazards: true", "some of battery:, fuel:, brake:, event:"),
        ("hold: {time: 30 s}", 'the key "what" is missing; it holds: What must hold'),
        ("hazards: {battery: disconect}", 'did you mean "disconnect"?'),
        ("cautions: [{signal: Warning, text: Hot.}]", "is not one of: DANGER, WARNING"),
        ("readings: [{name: gap, unit: mil}]", '"mil" is not a unit known here'),
        ("parts: [{name: washer, number: a12}]", "write it like A12-0071"),
        ("parts: [{name: washer, count: 0}]", "must be greater than or equal to 1"),
        ("reopens: [Front Bolts]", "write it like front-brake-bolts"),
        ("when: {abs: 1}", "write true or false, or one of the option's values"),
        ("why:", "nothing is written here"),
        ("parts: [{name: washer, new one}]", "inside { } a text that holds a comma must be"),
        ("why: #10-32 screws", 'what follows "#" is a comment'),
        ("why: Fit #10-32 screws", "the text ends before"),
        ("do: Twice.", 'the key "do" stands twice, first in line 13'),
        ("why: The left {side} one.", "{side} stands for nothing; only {each} does"),
        ("why: The {each} one.", "nothing repeats here"),
        ("off: [{item: seat}, {item: tank, how: lost}]", "is not one of: removed, unplugged"),
        (f"why: {'long ' * 119}long", "is 599 characters long, at most 500"),
    ],
)
def test_a_wrong_value_is_named_with_what_would_be_right(line: str, said: str) -> None:
    """One wrong line gives a finding in that line, in words that say how to write it."""
    head = HEAD + "options:\n  abs: {ask: Fitted?, default: false}\n"
    text = checklist(f"- step: front-bolts\n  do: Turn.\n  {line}\n", head)
    findings = refused(text)
    at = text.splitlines().index(f"        {line}".rstrip()) + 1
    wanted = [f for f in findings if said.replace("line 13", f"line {at - 1}") in f.message]
    assert [f.line for f in wanted] == [at], [str(f) for f in findings]
    assert len(findings) <= 2  # a wrong `when` value is wrong for the model and for the option


def test_a_step_is_named_in_its_findings() -> None:
    """A person who has many steps sees which one is meant."""
    (finding,) = refused(checklist("- step: front-bolts\n  do: Turn.\n  tork: x\n"))
    assert finding.message.startswith('step "front-bolts": ')


def test_names_that_are_the_same_after_correction_are_offered() -> None:
    """A part put back under a misspelled name gets the name under which it came off."""
    (finding,) = refused(
        checklist(
            """\
            - {step: one, do: Lift it., off: [{item: side panel}]}
            - {step: two, do: Fit it., back: [{item: side pannel}]}
            """
        )
    )
    assert finding.code == "back-without-off"
    assert 'did you mean "side panel"?' in finding.message


def test_shared_sections_are_read_with_their_own_lines() -> None:
    """A mistake in a shared section is told with that file's name and line."""
    text = HEAD + "sections:\n  - include: shared/proof.yaml\n"
    plan = loaded(text, {"shared/proof.yaml": SHARED})
    assert plan.sections[0].section.section == "proof"
    (finding,) = refused(text, {"shared/proof.yaml": SHARED + "    mintues: 3\n"})
    assert (finding.file, finding.line, finding.code) == ("shared/proof.yaml", 7, "unknown-key")


def test_includes_lie_below_the_folder_of_the_checklist() -> None:
    """The paths that a person gave stand in the messages; the hash knows only names."""
    text = HEAD + "sections:\n  - include: shared/proof.yaml\n"
    near = load({"small.yaml": text, "shared/proof.yaml": SHARED}, "small.yaml")
    far = load({"a/b/small.yaml": text, "a/b/shared/proof.yaml": SHARED}, "a/b/small.yaml")
    assert [source.name for source in far.sources] == ["small.yaml", "shared/proof.yaml"]
    assert far.sections[0].file == "a/b/shared/proof.yaml"
    assert near.sha256 == far.sha256


@pytest.mark.parametrize(
    ("sections", "shared", "code"),
    [
        ("- include: shared/prof.yaml", {"shared/proof.yaml": SHARED}, "no-such-include"),
        ("- include: ../proof.yaml", {"../proof.yaml": SHARED}, "bad-value"),
        ("- include: /etc/proof.yaml", {"/etc/proof.yaml": SHARED}, "bad-value"),
        ("- include: shared\\proof.yaml", {"shared\\proof.yaml": SHARED}, "bad-value"),
        ("- include: shared/../../proof.yaml", {}, "bad-value"),
        ("- include: C:/proof.yaml", {}, "bad-value"),
        (
            "- include: shared/proof.yaml\n  - include: shared/proof.yaml",
            {"shared/proof.yaml": SHARED},
            "duplicate-include",
        ),
        ("- include: small.yaml", {}, "not-shared"),
        (
            "- include: shared/proof.yaml",
            {"shared/proof.yaml": SHARED.replace("source", "language: ko\nsource")},
            "other-language",
        ),
        ("- include: shared/proof.yaml", {"shared/proof.yaml": "a: ["}, "yaml-syntax"),
    ],
)
def test_an_include_that_cannot_be_used_is_refused(
    sections: str, shared: dict[str, str], code: str
) -> None:
    """A missing file, a path out of the folder, a second include: each has its finding."""
    assert codes(refused(f"{HEAD}sections:\n  {sections}\n", shared)) == [code]


def test_a_path_in_an_id_is_refused() -> None:
    """Ids become file and journal names, so nothing like a path passes."""
    for name in ("../x", "/etc/passwd", "a/b", "a\\b", "~", "x" * 65, "CON."):
        findings = refused(HEAD.replace("small", name) + "sections: []\n")
        assert findings[0].line == 1, name


def test_a_shared_section_alone_is_no_checklist() -> None:
    """Checking a shared file by itself says what to check instead."""
    (finding,) = refused(SHARED)
    assert "check or start a checklist that includes it" in finding.message


def test_more_steps_than_any_job_has_are_refused() -> None:
    """Repeats count too: eleven steps for two hundred sides are over the limit."""
    sides = ", ".join(f"side {n}" for n in range(200))
    steps = "".join(f"- {{step: s{n}, do: 'Turn {{each}}.', each: [{sides}]}}\n" for n in range(11))
    assert codes(refused(checklist(steps))) == ["too-many-steps"]


def test_repeats_must_be_told_apart() -> None:
    """Doubled sides, sides without a letter, and repeats within repeats are refused."""
    text = HEAD + (
        "sections:\n  - section: a\n    title: The {each} side\n    each: [left, Left, '!!']\n"
        "    steps:\n      - {step: one, do: 'Turn the {each} one.', each: [x, y]}\n"
    )
    assert codes(refused(text)) == ["duplicate-repeat", "bad-value", "each-twice"]


def test_included_names_are_found_without_checking_anything_else() -> None:
    """The edge that reads files learns which ones; names that lead elsewhere are left out."""
    text = "sections:\n  - include: shared/a.yaml\n  - include: ../b.yaml\n  - {odd: 1}\n"
    assert included(text, "x.yaml") == ("shared/a.yaml",)


def test_the_hash_is_what_sha256sum_prints(tmp_path: Path) -> None:
    """Checked against GNU coreutils: anyone can recompute the stamp with two commands."""
    text = HEAD + "sections:\n  - include: shared/proof.yaml\n"
    (tmp_path / "shared").mkdir()
    (tmp_path / "small.yaml").write_bytes(text.encode())
    (tmp_path / "shared" / "proof.yaml").write_bytes(SHARED.encode())
    sums = subprocess.run(
        ["sha256sum", "small.yaml", "shared/proof.yaml"],
        cwd=tmp_path, capture_output=True, check=True,
    ).stdout  # fmt: skip
    again = subprocess.run(["sha256sum"], input=sums, capture_output=True, check=True).stdout
    mine = loaded(text, {"shared/proof.yaml": SHARED}).sha256
    assert again.decode().split()[0] == mine
