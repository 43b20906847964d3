"""What an unquoted word of YAML means here, and the words that mean different things elsewhere.

YAML 1.1 readers turn `no` into false, `1:30` into 90 and `010` into 8 (YAML 1.1 type
repository: bool, int, float, timestamp, merge); YAML 1.2 readers don't (YAML 1.2.2, chapter
10.3, core schema). A checklist must read the same everywhere, so such a word is refused with
the way to write it, and only what both agree on is taken.
"""

from __future__ import annotations

import re
from typing import Final

import yaml
from yaml.resolver import Resolver

Plain = str | int | float | bool | None

# Control characters and those that reorder or hide text on a screen ("Trojan source",
# CVE-2021-42574). Tab and line ends are left to the parser.
UNSAFE: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u061c\u200b\u200e\u200f\u2028-\u202e"
    "\u2060\u2066-\u2069\ufeff\ufffe\uffff\ud800-\udfff]"
)
_UNSHOWABLE: Final = re.compile(f"[\t\n\r{UNSAFE.pattern[1:]}")

_DECIMAL = re.compile(r"-?(?:0|[1-9][0-9]{0,14})(?:\.[0-9]{1,15})?")
_WORDS: Final = {"true": True, "false": False}
_BOOL_TRAP: Final = {"yes": True, "on": True, "no": False, "off": False}
# What PyYAML, a reader of YAML 1.1, makes of an unquoted word, by the end of its tag.
_YAML_1_1: Final = Resolver()
_REASONS: Final = {
    "bool": "is spelled differently by different programs",
    "null": "is spelled differently by different programs",
    "int": "is read as a number by some programs",
    "float": "is read as a number by some programs",
    "timestamp": "is read as a date by some programs",
    "merge": "has a special meaning to some programs",
    "value": "has a special meaning to some programs",
}
# Numbers of the YAML 1.2 core schema that YAML 1.1 readers don't take for such.
_YAML_1_2: Final = re.compile(
    r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+|[-+]?(?:\.[0-9]+|[0-9]+(?:\.[0-9]*)?)(?:[eE][-+]?[0-9]+)?"
)


def shown(text: str, longest: int = 60) -> str:
    """A text from a file, safe to print: escapes shown, not sent, and cut to a length."""
    cut = text if len(text) <= longest else text[: longest - 1] + "…"
    return _UNSHOWABLE.sub(lambda found: f"\\u{ord(found[0]):04x}", cut)


def plain_value(raw: str) -> tuple[Plain, str | None]:
    """The value of an unquoted scalar, and what is wrong with writing it so, if anything.

    A refused word still gets its likeliest value, so that one mistake gives one finding.
    """
    if raw == "":
        return None, "nothing is written here; write a value or leave the key out"
    if raw in _WORDS:
        return _WORDS[raw], None
    if _DECIMAL.fullmatch(raw):
        return (float(raw) if "." in raw else int(raw)), None
    return _trapped(raw)


def _trapped(raw: str) -> tuple[Plain, str | None]:
    lower = raw.lower()
    if lower in _BOOL_TRAP:
        meant = "true" if _BOOL_TRAP[lower] else "false"
        return _BOOL_TRAP[lower], (
            f"an unquoted {shown(raw)} is read as {meant} by some programs, as a word by others; "
            f'write {meant}, or quote the word: "{shown(raw)}"'
        )
    tag = _YAML_1_1.resolve(yaml.ScalarNode, raw, (True, False))  # type: ignore[no-untyped-call] # the stubs leave this one out
    kind = str(tag).rpartition(":")[2]
    why = _REASONS.get(kind) or (_REASONS["float"] if _YAML_1_2.fullmatch(raw) else None)
    if why is not None:
        return raw, f'an unquoted {shown(raw)} {why}; quote it: "{shown(raw)}"'
    return raw, None
