"""Hostile and broken files: refused with a reason, and nothing of them reaches the terminal."""

from __future__ import annotations

import random

import pytest
import yaml

from assistant.checklist import positions
from assistant.checklist.positions import MapNode, plain, read_yaml
from assistant.checklist.scalars import shown
from assistant.errors import BadFile, Finding
from tests.checklist.making import HEAD, checklist, codes, refused

LAUGHS = "a: &a [x, x]\n" + "".join(
    f"{after}: &{after} [*{one}, *{one}, *{one}, *{one}, *{one}, *{one}, *{one}, *{one}, *{one}]\n"
    for one, after in zip("abcdefgh", "bcdefghi", strict=True)
)


@pytest.mark.parametrize(
    ("text", "code", "said"),
    [
        (LAUGHS, "yaml-alias", "shared section"),
        ("a: *b\n", "yaml-alias", "shared section"),
        ("a: &b 1\n", "yaml-alias", "can grow without end"),
        ("a: !!python/object/apply:os.system [touch /tmp/x]\n", "yaml-tag", "is not allowed"),
        ("!!python/object/new:os.system\na: 1\n", "yaml-tag", "is not allowed"),
        ("a: !!str 1\n", "yaml-tag", "plain text"),
        ("a: !own 1\n", "yaml-tag", "plain text"),
        ("%TAG ! tag:example.org,2026:\n---\na: 1\n", "yaml-directive", "remove the line"),
        ("a: " + "[" * 21 + "]" * 21, "too-deep", "20 deep"),
        ("a: " + "[" * 500_000, "", ""),
        ("- " * 400_000, "too-deep", "20 deep"),
        ("? " * 400_000, "too-deep", "20 deep"),
        ("a: " + "{b: " * 30, "too-deep", "20 deep"),
        ("a: [" + "1," * 450_000 + "]", "too-much", "too many values"),
        ("".join(f"k{n}: yes\n" for n in range(600)), "too-much", "too many findings"),
        ("", "not-a-checklist", "the file holds no keys"),
        ("# only a comment\n", "not-a-checklist", "the file holds no keys"),
        ("- a\n- b\n", "not-a-checklist", "the file holds no keys"),
        ("just words\n", "not-a-checklist", "the file holds no keys"),
        ("a: 1\n---\nb: 2\n", "several-documents", "second document"),
        ("a: \x00\n", "control-character", "U+0000"),
        ("a: \x1b[2J\n", "control-character", "U+001B"),
        ("a: x\u202ey\n", "control-character", "U+202E"),
        ("a: \ud800\n", "control-character", "U+D800"),
        ("a: 'open\n", "yaml-syntax", "not closed"),
        ("a: [1, 2\n", "yaml-syntax", "not readable"),
        ("a: b: c\n", "yaml-syntax", 'a text that holds ": " must be in quotes'),
        ("\ta: 1\n", "yaml-syntax", "indent with spaces"),
        ("a:\n   b: 1\n  c: 2\n", "yaml-syntax", "indented differently"),
        ("a: " + "x" * 1_000_000, "", ""),
        ("a: " + "9" * 1_000_000, "", ""),
        ("x" * 1_000_000 + ": 1", "", ""),
    ],
)
@pytest.mark.parametrize("parser", [positions.PARSER, yaml.SafeLoader])
def test_hostile_text_is_refused_with_a_reason(
    text: str, code: str, said: str, parser: object, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The same by libyaml and by PyYAML's own parser; the reason is short, whatever the size."""
    monkeypatch.setattr(positions, "PARSER", parser)
    findings = refused(text)
    assert all(len(str(finding)) < 600 for finding in findings)
    if code:
        assert findings[-1].code == code, [str(f) for f in findings][:3]
        assert said in findings[-1].message


def test_nesting_up_to_the_limit_is_read() -> None:
    """The limit refuses what is deeper, not what is as deep."""
    text = "a: " + "[" * 19 + "]" * 19
    assert isinstance(read_yaml(text, "x").root, MapNode)


def test_no_control_character_is_echoed() -> None:
    """Whatever a file smuggles into a name, value or key, messages show it and don't send it."""
    smuggled = '"\\e[2J\\a\\0\\x9b31m\\u202e"'
    for line in (
        f"{smuggled}: 1",
        f"why: {smuggled}",
        f"fastener: {smuggled}",
        f"parts: [{smuggled}]",
    ):
        for finding in refused(checklist(f"- step: a\n  do: X.\n  {line}\n")):
            assert str(finding).isprintable(), finding


def test_shown_escapes_and_cuts() -> None:
    """A text from a file is safe on a terminal and short."""
    assert shown("a\x1b[31mb\nc") == "a\\u001b[31mb\\u000ac"
    assert shown("x" * 100, 10) == "x" * 9 + "…"


@pytest.mark.parametrize(
    ("word", "value"),
    [
        ("true", True),
        ("false", False),
        ("12", 12),
        ("-3", -3),
        ("0.5", 0.5),
        ("22 N·m", "22 N·m"),
        ("5/32 in", "5/32 in"),
        ("M8 × 1.25", "M8 × 1.25"),
        ("1.0.0", "1.0.0"),
        ('"yes"', "yes"),
        ("'010'", "010"),
        ("|\n  two\n  lines\n", "two lines"),
        (">\n  two\n\n  lines\n", "two lines"),
        ("two\n  lines", "two lines"),
    ],
)
def test_words_that_read_the_same_everywhere_are_taken(word: str, value: object) -> None:
    """Numbers, true and false, quoted words, and blocks of text as one paragraph."""
    text = read_yaml(f"a: {word}\n", "x")
    assert (plain(text.root), text.findings) == ({"a": value}, ())


@pytest.mark.parametrize(
    "word",
    ["yes", "No", "ON", "off", "True", "NULL", "~", "010", "0o17", "0x1F", "0b1", "1_000", "1:30",
     "12:30:45", "1e3", ".5", "5.", "+5", ".inf", "-.INF", ".nan", "2026-11-25", "<<", "=",
     "12345678901234567", ""],
)  # fmt: skip
def test_words_that_programs_read_differently_must_be_quoted(word: str) -> None:
    """Words that YAML 1.1 or YAML 1.2's core schema (from memory) converts need quotes."""
    text = read_yaml(f"a: {word}\n", "x")
    assert len(text.findings) == 1
    assert text.findings[0].code in {"ambiguous-word", "empty-value"}
    if word:
        assert "quote" in text.findings[0].message
        assert read_yaml(f'a: "{word}"\n', "x").findings == ()


def test_every_word_that_yaml_1_1_converts_is_taken_alike_or_refused() -> None:
    """PyYAML as the independent reader: no unquoted word means one thing there, another here."""
    chance = random.Random(7)  # noqa: S311 - for variety only
    letters = "0123456789-+.:_eExXoObByYnNfFtTruals~=<"
    for _ in range(20_000):
        word = "".join(chance.choice(letters) for _ in range(chance.randint(1, 8)))
        try:
            theirs = yaml.safe_load(f"[{word}]")
        except (yaml.YAMLError, ValueError):
            continue
        try:
            ours = read_yaml(f"a: [{word}]", "x")
        except BadFile:
            continue
        if not ours.findings:
            assert plain(ours.root) == {"a": tuple(theirs)}, word


def test_the_key_off_is_a_word() -> None:
    """The checklist's own key reads the same in every place where a key stands."""
    text = read_yaml("off: [off]\n", "x")
    assert plain(text.root) == {"off": (False,)}
    assert [f.code for f in text.findings] == ["ambiguous-word"]


def test_a_text_cut_by_a_comment_is_told() -> None:
    """A screw size after a space would silently vanish; a written comment does not matter."""
    assert read_yaml("a: fit it  # with care\n", "x").findings == ()
    (finding,) = read_yaml("a: fit #10-32 screws\n", "x").findings
    assert (finding.code, finding.line) == ("text-cut", 1)


def test_lines_are_those_of_an_editor() -> None:
    """With Windows line ends, a byte order mark and blocks of text the lines still agree."""
    text = HEAD.replace("\n", "\r\n") + "sections: []\r\nextra: 1\r\n"
    assert [(f.line, f.code) for f in refused("\ufeff" + text)] == [
        (8, "bad-value"),
        (9, "unknown-key"),
    ]


def test_findings_before_the_refusal_are_kept() -> None:
    """What was wrong in earlier lines is told together with what ended the reading."""
    findings: tuple[Finding, ...] = refused("a: yes\nb: &c 1\n")
    assert codes(findings) == ["ambiguous-word", "yaml-alias"]
