"""What an unquoted word of YAML means here, and the words that mean different things elsewhere.

YAML 1.1 readers turn `no` into false, `1:30` into 90 and `010` into 8 (YAML 1.1 type
repository: bool, int, float, timestamp, merge); YAML 1.2 readers don't (YAML 1.2.2, chapter
10.3, core schema). A checklist must read the same everywhere, so such a word is refused with
the way to write it, and only what both agree on is taken.
"""

from __future__ import annotations

import re
from typing import Final

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
_OTHER_TRAPS: Final = (
    (re.compile(r"(?i:true|false|null)|~"), "is spelled differently by different programs"),
    (re.compile(r"<<|="), "has a special meaning to some programs"),
    (re.compile(r"[-+]?\d[\d_]*(?::[0-5]?\d)+(?:\.\d*)?"), "is read as a number to the base 60"),
    (re.compile(r"\d{4}-\d\d?-\d\d?(?:[Tt ].*)?"), "is read as a date by some programs"),
    (re.compile(r"[-+]?0[\d_]+"), "is read as an octal number by some programs"),
    (re.compile(r"[-+]?0[xob][\da-fA-F_]+"), "is read as a number to another base"),
    (re.compile(r"[-+]?\.(?i:inf|nan)"), "is read as a number that nothing can measure"),
    (re.compile(r"[-+]?[\d.]+[eE][-+]?\d+"), "is read as a number by some programs only"),
    (re.compile(r"[-+]?\d[\d_]*_[\d_]*(?:\.[\d_]*)?"), "is read as a number by some programs"),
    (re.compile(r"[-+]?(?:\d+\.|\.\d+|\+\d[\d.]*)"), "is read as a number by some programs"),
    (
        re.compile(r"[-+]?\d{16,}(?:\.\d*)?|[-+]?\d+\.\d{16,}"),
        "has too many digits for a number",
    ),
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
    if len(raw) < 64:  # none of the words below is longer
        for pattern, why in _OTHER_TRAPS:
            if pattern.fullmatch(raw):
                return raw, f'an unquoted {shown(raw)} {why}; quote it: "{shown(raw)}"'
    return raw, None
