"""What the clips have to say: every phrase of the phrasebook, its slots filled."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import yaml

HERE = Path(__file__).resolve().parent
LANGUAGE = HERE.parent / "assistant" / "language" / "data" / "en"
PHRASEBOOK = LANGUAGE / "phrasebook.yaml"
NUMBERS = LANGUAGE / "numbers.yaml"
SAID = HERE / "said.yaml"

Kind = Literal["command", "reading", "fragment"]
_SLOT = re.compile(r"<([a-z_]+)>")


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to be said.

    Attributes:
        transcript: the words, lower case, as the phrasebook has them.
        intent: the intent's name in the phrasebook.
        kind: "command" or "reading" is a whole utterance; "fragment" is a piece that only
            makes an utterance together with another (a read-back's words, its number).
        short: True when voices with the short list carry it too.
    """

    transcript: str
    intent: str
    kind: Kind
    short: bool = True

    @property
    def slug(self) -> str:
        """The file name without its ending."""
        return re.sub(r"[^a-z0-9]+", "-", self.transcript).strip("-")


def load_yaml(path: Path) -> dict[str, Any]:
    """The mapping in a YAML file; raises TypeError when it holds something else."""
    data = yaml.safe_load(path.read_text(encoding="utf-8"))
    if not isinstance(data, dict):
        raise TypeError(f"{path}: a mapping is needed, found {type(data).__name__}")
    return data


def _readings(template: str, book: dict[str, Any], said: dict[str, Any]) -> Iterator[Line]:
    for ways in book["slots"]["unit"].values():
        for place, value in enumerate(said["reading_values"]):
            words = template.replace("<number>", value).replace("<unit>", ways[0])
            yield Line(words, "reading", "reading", short=place == 0)
        for way in ways[1:]:
            words = template.replace("<number>", said["singular_value"]).replace("<unit>", way)
            yield Line(words, "reading", "reading", short=False)
    for words in said["readings"]:
        yield Line(words, "reading", "reading", short=False)


def _characters(table: Literal["digits", "letters"]) -> list[str]:
    """Each digit or letter as it is taught: any part number can be joined of their clips."""
    return [ways[0] for ways in load_yaml(NUMBERS)[table].values()]


def _read_backs(said: dict[str, Any]) -> Iterator[Line]:
    digits = _characters("digits")
    numbers = [f"{tens} {ones}" for tens, ones in itertools.product(digits, digits)]
    for place, words in enumerate(said["read_back"].values()):
        yield Line(words, "read_back", "fragment")
        # Whole read-backs, each with another number; 37 has no factor in common with 100, so
        # the numbers differ.
        number = numbers[(place * 37 + 42) % len(numbers)]
        yield Line(f"{words} {number}", "read_back", "command", short=False)
    for number in numbers:
        yield Line(number, "read_back", "fragment", short=False)


def _slot_values(
    slot: str, template: str, book: dict[str, Any], said: dict[str, Any]
) -> list[tuple[str, bool]]:
    """Every way to fill a slot, and whether it is one for the short list.

    Raises:
        KeyError: when nothing says what to fill it with.
    """
    if slot in book["slots"]:
        ways = book["slots"][slot].values()
        return [(way, place == 0) for some in ways for place, way in enumerate(some)]
    if slot == "characters":
        return [(word, True) for word in (*_characters("digits"), *_characters("letters"))]
    own = said["slots"]
    name = "timer" if slot == "number" and "timer" in template else slot
    if name not in own:
        raise KeyError(f"{SAID.name}: no values for <{slot}> of {template!r}: add them to slots")
    return [(word, True) for word in own[name]]


def _commands(intent: str, template: str, book: dict[str, Any], said: dict[str, Any]) -> list[Line]:
    slots = _SLOT.findall(template)
    choices = [_slot_values(slot, template, book, said) for slot in slots]
    lines = []
    for values in itertools.product(*choices):
        words = template
        for slot, (value, _) in zip(slots, values, strict=True):
            words = words.replace(f"<{slot}>", value, 1)
        lines.append(Line(words, intent, "command", all(short for _, short in values)))
    return lines


def all_lines(phrasebook: Path = PHRASEBOOK, said_file: Path = SAID) -> tuple[Line, ...]:
    """Everything that is to be said, in the phrasebook's order, each transcript once."""
    book, said = load_yaml(phrasebook), load_yaml(said_file)
    lines: dict[str, Line] = {}
    for intent, entry in book["intents"].items():
        for template in entry["phrases"]:
            if "<unit>" in template:
                found = list(_readings(template, book, said))
            elif "<read_back>" in template:
                found = list(_read_backs(said))
            else:
                found = _commands(intent, template, book, said)
            for line in found:
                lines.setdefault(line.transcript, line)
    return tuple(lines.values())
