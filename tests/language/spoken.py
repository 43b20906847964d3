"""Random phrases of a grammar, and grammars read back from what is given to the engines."""

from __future__ import annotations

import re
from collections.abc import Mapping
from functools import cache
from xml.etree import ElementTree as ET

from hypothesis import strategies as st

from assistant.language.expression import Choice, Expression, Repeat, Rule, Run, Word

LONGEST_LOOP = 6
SRGS = "{http://www.w3.org/2001/06/grammar}"
FILLERS: Mapping[str, Mapping[str, tuple[str, ...]]] = {
    "name": {"mara": ("mara",), "tobin": ("tobin",)},
    "wrench": {"short wrench": ("short wrench",), "long wrench": ("long wrench",)},
    "read_back": {
        "battery-off": ("negative is off and clear",),
        "release": ("nothing off and all proven",),
    },
}


@cache
def phrases_of(expression: Expression) -> st.SearchStrategy[tuple[str, ...]]:
    """Words that the expression admits."""
    match expression:
        case Word(text):
            return st.just((text,))
        case Run(parts):
            return st.tuples(*map(phrases_of, parts)).map(_joined)
        case Choice(options):
            return st.one_of(*map(phrases_of, options))
        case Rule(_, part):
            return phrases_of(part)
        case Repeat(part, low, high):
            most = high if high is not None else low + LONGEST_LOOP
            return st.lists(phrases_of(part), min_size=low, max_size=most).map(_joined)


def _joined(parts: tuple[tuple[str, ...], ...] | list[tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(word for part in parts for word in part)


def jsgf_as_pattern(text: str) -> re.Pattern[str]:
    """An independent reading of a JSGF text: a regular expression over words and spaces."""
    rules = dict(re.findall(r"^(?:public )?<(\w+)> = (.*);$", text, flags=re.MULTILINE))

    def pattern(rule: str) -> str:
        out = []
        for piece in re.findall(r"<\w+>|[()\[\]|*+]|[^\s()\[\]|*+<>]+", rules[rule]):
            if piece.startswith("<"):
                out.append(f"(?:{pattern(piece[1:-1])})")
            elif piece in "()|*+":
                out.append("(?:" if piece == "(" else piece)
            elif piece in "[]":
                out.append("(?:" if piece == "[" else ")?")
            else:
                # Grouped, so that a star after a single word repeats the word with its space.
                out.append(f"(?:{re.escape(piece)} )")
        return "".join(out)

    return re.compile(pattern("command"))


def srgs_as_pattern(text: str) -> re.Pattern[str]:
    """An independent reading of an SRGS text (W3C Recommendation 16 March 2004)."""
    root = ET.fromstring(text)  # noqa: S314 - our own output
    rules = {rule.get("id", ""): rule for rule in root.findall(f"{SRGS}rule")}

    def words(said: str | None) -> str:
        return "".join(f"{re.escape(word)} " for word in (said or "").split())

    def inside(node: ET.Element) -> str:
        return words(node.text) + "".join(one(child) + words(child.tail) for child in node)

    def one(node: ET.Element) -> str:
        if node.tag == f"{SRGS}tag":
            return ""
        if node.tag == f"{SRGS}ruleref":
            return f"(?:{inside(rules[node.get('uri', '').removeprefix('#')])})"
        if node.tag == f"{SRGS}one-of":
            return f"(?:{'|'.join(one(item) for item in node)})"
        assert node.tag == f"{SRGS}item", node.tag
        low, dash, high = node.get("repeat", "1").partition("-")
        return f"(?:{inside(node)}){{{low}{',' if dash else ''}{high}}}"

    return re.compile(inside(rules[root.get("root", "")]))
