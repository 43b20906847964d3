"""Hazard work that a step's words describe although the step carries no tag for it (I7).

A verb of work and the name of a hazard's part in one clause are work on that hazard, unless the
verb is refused ("do not", "without", "before"), or the part is only mentioned ("next to the
tank"), looked at, or the beginning of another name ("tank pad"). In doubt it is work: an author
who knows better writes the reason, and the record shows it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from assistant.checklist.loader import Loaded
from assistant.checklist.model import Step
from assistant.errors import Finding
from assistant.safety.hazard_words import HazardWords, load_hazard_words
from assistant.safety.hazards import Hazard
from assistant.safety.sentences import EDGE, read
from assistant.safety.work import Named, is_mentioned, work_named

__all__ = ["HazardWords", "Named", "findings", "hazards_named", "load_hazard_words", "untagged"]

CODE: Final = "untagged-hazard"
_EACH: Final = "{each}"


def hazards_named(text: str, words: HazardWords) -> tuple[Hazard, ...]:
    """The hazards on which a text describes work, in the order of `Hazard`."""
    found = {named.hazard for named in work_named(text, words)}
    return tuple(hazard for hazard in Hazard if hazard in found)


def untagged(step: Step, words: HazardWords) -> tuple[Hazard, ...]:
    """The hazards on which a step describes work without a tag for them.

    Its text counts, and the names of what comes off, goes back, is fitted, used up or fastened.
    A reason that the author wrote (`hazard_reason`) changes nothing here.
    """
    found = {named.hazard for named in _untagged(step, words, ())}
    return tuple(hazard for hazard in Hazard if hazard in found)


def findings(loaded: Loaded, words: HazardWords) -> tuple[Finding, ...]:
    """An error for each step and hazard without tag or reason, at the line of the step's text."""
    found: list[Finding] = []
    for part, index, step in loaded.steps():
        if step.hazard_reason is not None:
            continue
        told: dict[Hazard, str] = {}
        for named in _untagged(step, words, part.section.each):
            told.setdefault(named.hazard, named.words)
        line = part.line(index, "do")
        found.extend(
            Finding("error", CODE, part.file, line, _message(step, hazard, told[hazard]))
            for hazard in Hazard
            if hazard in told
        )
    return tuple(found)


_TAGS: Final = {
    Hazard.BATTERY: "disconnect, needs-isolated, reconnect or prove",
    Hazard.FUEL: "open, work, close or prove",
    Hazard.BRAKE: "open, work, close or prove",
}


def _message(step: Step, hazard: Hazard, words: str) -> str:
    return (
        f'step "{step.step}": "{words}" is {hazard.value} work, but the step has no '
        f"{hazard.value} tag; write hazards: {{{hazard.value}: …}} with {_TAGS[hazard]}, or a "
        f"hazard_reason: with a sentence why it is no such work (I7)"
    )


def _untagged(step: Step, words: HazardWords, each: tuple[str, ...]) -> Iterator[Named]:
    tags = {
        Hazard.BATTERY: step.hazards.battery,
        Hazard.FUEL: step.hazards.fuel,
        Hazard.BRAKE: step.hazards.brake,
    }
    missing = {hazard for hazard, tag in tags.items() if tag is None}
    if not missing:
        return
    for value in (*each, *step.each) or ("",):
        for named in _named_by(step, value, words):
            if named.hazard in missing:
                yield named


def _named_by(step: Step, each: str, words: HazardWords) -> Iterator[Named]:
    """All hazard work that a step describes, with {each} filled in."""
    yield from work_named(step.do.replace(_EACH, each), words)
    items = [(f"{item.how} {item.item}", item.item) for item in step.off]
    items += [(f"put back {item.item}", item.item) for item in step.back]
    items += [(f"fit {part.name}", part.name) for part in step.parts]
    if step.fastener is not None:
        items.append((f"fasten {step.fastener.name}", step.fastener.name))
    for shown, name in items:
        filled = name.replace(_EACH, each)
        yield from (Named(h, shown.replace(_EACH, each)) for h in _of_item(filled, words))
    for name in step.consumables:
        filled = name.replace(_EACH, each)
        yield from (Named(h, f"use {filled}") for h in _of_supply(filled, words))


def _of_item(name: str, words: HazardWords) -> Iterator[Hazard]:
    """Hazards whose parts an item is: that it comes off or goes back is the work."""
    tokens = read(name, words)
    for index, token in enumerate(tokens):
        for parts in token.parts:
            loose = not parts.only or "remove" in parts.verbs
            if loose and not is_mentioned(tokens, index):
                yield parts.hazard


def _of_supply(name: str, words: HazardWords) -> Iterator[Hazard]:
    """Hazards whose fluid is used up: "DOT 4 brake fluid, sealed", not "brake fluid rags"."""
    tokens = read(name, words)
    for hazard, supplies in words.supplies.items():
        for index, token in enumerate(tokens):
            after = tokens[index + 1] if index + 1 < len(tokens) else EDGE
            last = bool(after.mark) or after.words in supplies
            if token.words in supplies and token.parts and last:
                yield hazard
