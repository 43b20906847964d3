"""A grammar written the way each engine reads it."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product
from xml.etree import ElementTree as ET

from assistant.language.automaton import Automaton
from assistant.language.examples import examples
from assistant.language.expression import (
    Choice,
    Expression,
    Repeat,
    Rule,
    Run,
    Word,
)
from assistant.language.number_words import Words
from assistant.language.pattern import Filled, Pattern

SRGS = "http://www.w3.org/2001/06/grammar"
_XML = "http://www.w3.org/XML/1998/namespace"


def _rule_name(pattern: Pattern) -> str:
    return f"intent_{pattern.intent}"


def _by_intent(patterns: Sequence[Pattern]) -> dict[str, list[Pattern]]:
    grouped: dict[str, list[Pattern]] = {}
    for pattern in patterns:
        grouped.setdefault(_rule_name(pattern), []).append(pattern)
    return grouped


def _slots(patterns: Sequence[Pattern]) -> dict[str, Filled]:
    return {p.slot: p for pattern in patterns for p in pattern.parts if isinstance(p, Filled)}


def jsgf(patterns: Sequence[Pattern], language: str) -> str:
    """JSGF 1.0 (Sun Microsystems 1998, W3C Note 2000)."""
    rules: dict[str, str] = {}
    grouped = _by_intent(patterns)
    for name, filled in _slots(patterns).items():
        rules[f"slot_{name}"] = _jsgf(filled.expression, rules)
    for name, members in grouped.items():
        rules[name] = " | ".join(
            " ".join(p.text if isinstance(p, Word) else f"<slot_{p.slot}>" for p in member.parts)
            for member in members
        )
    lines = [f"#JSGF V1.0 UTF-8 {language};", "grammar gloveson;", ""]
    lines.append(f"public <command> = {' | '.join(f'<{name}>' for name in grouped)};")
    lines.extend(f"<{name}> = {body};" for name, body in rules.items())
    return "\n".join(lines) + "\n"


def _jsgf(expression: Expression, rules: dict[str, str]) -> str:
    match expression:
        case Word(text):
            return text
        case Run(parts):
            return " ".join(_jsgf(part, rules) for part in parts)
        case Choice(options):
            return f"( {' | '.join(_jsgf(option, rules) for option in options)} )"
        case Rule(name, part):
            if name not in rules:
                rules[name] = ""
                rules[name] = _jsgf(part, rules)
            return f"<{name}>"
        case Repeat(part, low, high):
            return _jsgf_repeat(_jsgf(part, rules), low, high)


def _jsgf_repeat(inner: str, low: int, high: int | None) -> str:
    grouped = f"( {inner} )" if " " in inner else inner
    required = " ".join([grouped] * low)
    if high is None:
        return f"{required} {grouped}*".strip()
    tail = ""
    for _ in range(high - low):
        tail = f"[ {inner} {tail}]" if not tail else f"[ {grouped} {tail} ]"
    return f"{required} {tail}".strip()


def srgs(patterns: Sequence[Pattern], language: str) -> str:
    """SRGS 1.0 XML (W3C Recommendation 16 March 2004), with literal tags for the meanings."""
    ET.register_namespace("", SRGS)
    root = ET.Element(
        f"{{{SRGS}}}grammar",
        {
            "version": "1.0",
            "mode": "voice",
            "root": "command",
            f"{{{_XML}}}lang": language,
            "tag-format": "semantics/1.0-literals",
        },
    )
    command = ET.SubElement(root, f"{{{SRGS}}}rule", {"id": "command", "scope": "public"})
    grouped = _by_intent(patterns)
    choices = ET.SubElement(command, f"{{{SRGS}}}one-of")
    done: set[str] = set()
    for name, members in grouped.items():
        _ref(ET.SubElement(choices, f"{{{SRGS}}}item"), name)
        rule = ET.SubElement(root, f"{{{SRGS}}}rule", {"id": name})
        either = ET.SubElement(rule, f"{{{SRGS}}}one-of")
        for member in members:
            item = ET.SubElement(either, f"{{{SRGS}}}item")
            for part in member.parts:
                if isinstance(part, Word):
                    ET.SubElement(item, f"{{{SRGS}}}item").text = part.text
                else:
                    _ref(item, f"slot_{part.slot}")
            ET.SubElement(item, f"{{{SRGS}}}tag").text = member.intent
    for name, filled in _slots(patterns).items():
        rule = ET.SubElement(root, f"{{{SRGS}}}rule", {"id": f"slot_{name}"})
        if filled.ways:
            _table(rule, filled)
        else:
            _srgs(filled.expression, rule, root, done)
    ET.indent(root)
    body = ET.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'


def _ref(parent: ET.Element, name: str) -> None:
    ET.SubElement(parent, f"{{{SRGS}}}ruleref", {"uri": f"#{name}"})


def _table(rule: ET.Element, filled: Filled) -> None:
    either = ET.SubElement(rule, f"{{{SRGS}}}one-of")
    for canonical, ways in filled.ways.items():
        for words in ways:
            item = ET.SubElement(either, f"{{{SRGS}}}item")
            item.text = " ".join(words)
            ET.SubElement(item, f"{{{SRGS}}}tag").text = canonical


def _srgs(expression: Expression, parent: ET.Element, root: ET.Element, done: set[str]) -> None:
    match expression:
        case Word(text):
            ET.SubElement(parent, f"{{{SRGS}}}item").text = text
        case Run(parts):
            for part in parts:
                _srgs(part, parent, root, done)
        case Choice(options):
            either = ET.SubElement(parent, f"{{{SRGS}}}one-of")
            for option in options:
                _srgs(option, ET.SubElement(either, f"{{{SRGS}}}item"), root, done)
        case Repeat(part, low, high):
            times = f"{low}-" if high is None else f"{low}-{high}" if low != high else f"{low}"
            item = ET.SubElement(parent, f"{{{SRGS}}}item", {"repeat": times})
            _srgs(part, item, root, done)
        case Rule(name, part):
            _ref(parent, name)
            if name not in done:
                done.add(name)
                _srgs(part, ET.SubElement(root, f"{{{SRGS}}}rule", {"id": name}), root, done)


def phrase_list(patterns: Sequence[Pattern]) -> tuple[str, ...]:
    """Fixed phrases with their table slots written out, and examples of those with open slots.

    What learns word pairs from the list learns all that are admitted, each about equally often.
    A list of single words in its place: `gloveson trial --without word-pairs`.
    """
    found: dict[str, None] = {}
    for pattern in patterns:
        ways = [
            [(part.text,)]
            if isinstance(part, Word)
            else [way for each in part.ways.values() for way in each]
            for part in pattern.parts
        ]
        found.update(dict.fromkeys(_written(ways)))
    open_ones = (p for p in patterns if any(isinstance(q, Filled) and not q.ways for q in p.parts))
    for pattern in open_ones:
        found.update(dict.fromkeys(examples(Automaton.of([pattern.expression]))))
    return tuple(found)


def _written(stretch: Sequence[Sequence[Words]]) -> list[str]:
    """Every way through; none where a slot is open."""
    return [" ".join(word for words in ways for word in words) for ways in product(*stretch)]
