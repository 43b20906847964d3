"""Every size, torque, fraction, unit and number that the shipped checklists say, as written."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache

from assistant import packaged, shelf
from assistant.checklist.expand import expand, option_sets
from assistant.checklist.plan import PlannedStep
from assistant.checklist.tray import lay_out
from assistant.job.effects import Line, line
from assistant.job.present import part_lines, present_step
from assistant.job.state import JobState, Setting
from assistant.job.tray_lines import tray_lines
from assistant.language.shapes import FRACTION, METRIC, NUMBER, OIL, UNIFIED, WINTER_OIL
from assistant.opening import setting_of, words_of
from assistant.trade.quantity import number_text, parse_number

_PART_NUMBER = re.compile(r"part number \S+")
_HEXALOBULAR = re.compile(r"\bT(?P<size>[0-9]{1,3})\b")
_BRAKE_FLUID = re.compile(r"\bDOT (?P<grade>[0-9](?:\.[0-9])?)\b")
_ORDINAL = re.compile(r"\b[0-9]+(?:st|nd|rd|th)\b")
_WORD = re.compile(r"[^\W\d_][\w-]*")
_QUANTITY = re.compile(rf"(?P<minus>(?<![\w)] )[-−])?(?P<number>{NUMBER})")

Meaning = tuple[str, tuple[tuple[str, str], ...]]


@dataclass(frozen=True, slots=True)
class Written:
    """One size or number.

    Attributes:
        text: as the screen has it.
        meaning: name of the intent and its slots that must be heard, as `aloud_book` has them;
            worked out from the text alone, not from the words.
    """

    text: str
    meaning: Meaning


def lines_said() -> Iterator[str]:
    """Every line of every step of every shipped checklist, as shown; and their trays."""
    words = words_of("en")
    for file in sorted(shelf.checklists_folder().glob("*.yaml")):
        loaded = shelf.load_checklist(file)
        for options in option_sets(loaded, 16):
            plan = expand(loaded, options)
            setting = setting_of(plan, {})
            for planned in plan.steps:
                yield from (words.shown(said) for said in _of_step(setting, planned))
            yield from (words.shown(said) for said in tray_lines(plan, lay_out(plan)))


def _of_step(setting: Setting, planned: PlannedStep) -> Iterator[Line]:
    """What may be said at a step: told, asked for, and its limits when a reading is out."""
    yield from present_step(setting, JobState(), planned)
    yield from part_lines(planned.step)
    if planned.step.why is not None:
        yield line("text", text=planned.step.why)
    for reading in planned.step.readings:
        yield from (line("text", text=x) for x in (reading.at_least, reading.at_most) if x)


@cache
def written() -> tuple[Written, ...]:
    """All of them, each once, in the order of their text."""
    found = {one for text in set(lines_said()) for one in in_text(text)}
    return tuple(sorted(found, key=lambda one: (one.text, one.meaning)))


def in_text(text: str) -> Iterator[Written]:
    """Sizes and numbers of a text from left to right."""
    text = _PART_NUMBER.sub(" ", text)
    at = 0
    while at < len(text):
        found = _at(text, at)
        if found is None:
            word = _WORD.match(text, at) or _ORDINAL.match(text, at)
            at = word.end() if word is not None else at + 1
            continue
        at, one = found
        yield one


def _at(text: str, at: int) -> tuple[int, Written] | None:
    """The size that begins here, and where it ends."""
    for pattern, means in _SHAPES:
        match = pattern.match(text, at)
        if match is not None:
            return match.end(), Written(match.group(), means(match))
    match = None if _ORDINAL.match(text, at) else _QUANTITY.match(text, at)
    return _quantity(text, match) if match is not None else None


def _quantity(text: str, match: re.Match[str]) -> tuple[int, Written]:
    wording = packaged.wording("en")
    number = ("number", _value(match["number"]))
    sign = "below_" if match["minus"] else ""
    unit = wording.unit_pattern.match(text, match.end())
    preposition = unit is not None and unit["unit"] == "in" and _no_inch(text, match, unit.end())
    if unit is None or preposition or unit["unit"] == '"':
        kind = "below_number" if sign else "number"
        slot = number if sign or not number[1].isdigit() else ("cardinal", number[1])
        return match.end(), Written(match.group(), (kind, (slot,)))
    names = wording.units[unit["unit"]]
    symbol = next(symbol for symbol, known in wording.units.items() if known is names)
    said = text[match.start() : unit.end()]
    return unit.end(), Written(said, (f"{sign}quantity", (number, ("unit", symbol))))


def _no_inch(text: str, match: re.Match[str], end: int) -> bool:
    """Whether "in" after a whole number is a preposition: "2 in the tray"."""
    after = re.match(r" (the|a|each|its|all|one|this|that|both)\b", text[end:])
    return match["number"].isdigit() and after is not None


def _value(text: str) -> str:
    return number_text(parse_number(re.sub(rf"-(?={FRACTION})", " ", text.replace(",", ""))))


def _metric(match: re.Match[str]) -> Meaning:
    more = tuple(("pitch", _value(text)) for text in re.findall(r"[0-9.]+", match["more"]))
    return f"metric_{1 + len(more)}", (("cardinal", match["size"]), *more)


def _unified(match: re.Match[str]) -> Meaning:
    series, pitch = (match["series"] or "none").lower(), ("cardinal", match["pitch"])
    if match["size"].startswith("#"):
        return f"unified_{series}_screw", (("screw", match["size"][1:]), pitch)
    return f"unified_{series}", (("inch", _value(match["size"])), pitch)


def _oil(match: re.Match[str]) -> Meaning:
    return "oil", (("winter", match["cold"]), ("cardinal", match["hot"]))


_SHAPES = (
    (METRIC, _metric),
    (UNIFIED, _unified),
    (OIL, _oil),
    (WINTER_OIL, lambda match: ("winter_oil", (("winter", match["cold"]),))),
    (_HEXALOBULAR, lambda match: ("hexalobular", (("cardinal", match["size"]),))),
    (_BRAKE_FLUID, lambda match: ("brake_fluid", (("grade", match["grade"]),))),
)
