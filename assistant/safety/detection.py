"""Hazard work that a step's words describe although the step carries no tag for it (I7).

A verb of work and the name of a hazard's part in one clause are work on that hazard, unless the
verb is refused ("do not", "without", "before"), or the part is only mentioned ("next to the
tank"), looked at, or the beginning of another name ("tank pad"). In doubt it is work: an author
who knows better writes the reason, and the record shows it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from assistant.checklist.loader import Loaded
from assistant.checklist.model import Step
from assistant.errors import Finding
from assistant.safety.hazard_words import HazardWords, Parts, Verb, load_hazard_words
from assistant.safety.hazards import Hazard
from assistant.safety.sentences import EDGE, Token, read

__all__ = ["HazardWords", "Named", "findings", "hazards_named", "load_hazard_words", "untagged"]

CODE: Final = "untagged-hazard"
_EACH: Final = "{each}"
_MENTIONED, _TOUCHED, _DIRECT = "mentioned", "touched", "direct"


@dataclass(frozen=True, slots=True)
class Named:
    """Hazard work that some words describe, and those words."""

    hazard: Hazard
    words: str


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
            if loose and _relation(tokens, index)[0] is not _MENTIONED:
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


# -- a text


def work_named(text: str, words: HazardWords) -> Iterator[Named]:
    """Each piece of hazard work that a text describes, with the words that do."""
    tokens = read(text, words)
    for index, token in enumerate(tokens):
        for parts in token.parts:
            verb = _verb_for(tokens, index, parts, words)
            if verb:
                yield Named(parts.hazard, f"{verb} … {token.text}")
    for index, token in enumerate(tokens):
        if token.verb is not None and not token.through:
            yield from _by_pronoun(tokens, index)


def _verb_for(tokens: tuple[Token, ...], index: int, parts: Parts, words: HazardWords) -> str:
    """The verb or state that makes this name hazard work; empty when nothing does."""
    relation, by = _relation(tokens, index)
    given = by.can_be("given")  # "with the caliper off"
    if relation is _MENTIONED and not (given and _is_supply(tokens[index], words)):
        return _state(tokens, index, parts) if given else ""
    for at in _verbs_on(tokens, index):
        verb = tokens[at].verb
        if verb is not None and _counts(tokens, at, verb, parts, relation):
            return tokens[at].text
    return _state(tokens, index, parts)


def _is_supply(token: Token, words: HazardWords) -> bool:
    return any(token.words in supplies for supplies in words.supplies.values())


def _verbs_on(tokens: tuple[Token, ...], index: int) -> Iterator[int]:
    """Verbs that are done to the part named here: the one before it, else the one after it."""
    before = _back_to(tokens, index, _is_verb)
    if before is not None:
        yield before
    boundary = _back_to(tokens, index, _is_boundary)
    after = next((i for i in range(index + 1, len(tokens)) if _is_verb(tokens[i])), None)
    if after is None or any(t.mark == "stop" for t in tokens[index:after]):
        return
    # "The tank is lifted", also after "and" or "while", but not after "see that".
    free = before is None or (boundary is not None and boundary > before)
    joined = not any(t.mark or t.can_be("joining") for t in tokens[index:after])
    if before is None or (free and joined and _is_said(tokens, after)):
        yield after


def _is_verb(token: Token) -> bool:
    return token.verb is not None and not token.through


def _is_boundary(token: Token) -> bool:
    return bool(token.mark) or token.can_be("joining") or token.can_be("given")


def _back_to(tokens: tuple[Token, ...], index: int, wanted: Callable[[Token], bool]) -> int | None:
    """The nearest token before this one that is wanted, in the same sentence."""
    for at in range(index - 1, -1, -1):
        if wanted(tokens[at]):
            return at
        if tokens[at].mark == "stop":
            return None
    return None


def _is_said(tokens: tuple[Token, ...], at: int) -> bool:
    """Whether something is said to be done: "is lifted", "are carefully removed"."""
    verb = tokens[at].verb
    if verb is not None and verb.form == "present":
        return True  # the tank lifts off
    for before in range(at - 1, -1, -1):
        if tokens[before].can_be("being"):
            return True
        if not tokens[before].can_be("adverbs"):
            return False
    return False


def _counts(tokens: tuple[Token, ...], at: int, verb: Verb, parts: Parts, relation: str) -> bool:
    """Whether this verb, done in this relation, is work on these parts."""
    if verb.name in parts.exempt or _refused(tokens, at):
        return False
    span = _span(tokens, at)
    by_name = verb.name in parts.verbs
    general = verb.work and not parts.only
    if general and verb.particles:
        general = any(token.text in verb.particles for token in span)
    if not (by_name or general):
        return False
    if parts.body and relation is _TOUCHED:
        # Something lies on the tank, or is bolted to it: only the latter is work on it.
        return general and any(token.can_be("fittings") and not token.verb for token in span)
    return True


def _span(tokens: tuple[Token, ...], at: int) -> tuple[Token, ...]:
    """What follows a verb up to the next one or the end of the sentence."""
    end = at + 1
    while end < len(tokens) and tokens[end].mark != "stop" and not _is_verb(tokens[end]):
        end += 1
    return tokens[at + 1 : end]


def _refused(tokens: tuple[Token, ...], at: int) -> bool:
    """Whether the text says that this is not to be done here."""
    either = False
    for before in range(at - 1, -1, -1):
        token = tokens[before]
        if _is_verb(token):
            return either and _refused(tokens, before)
        if token.can_be("refusing"):
            return True
        if token.can_be("refusing_said") and _is_said(tokens, at):
            return True
        if token.mark:
            return False
        either = either or token.can_be("either")
    return False


def _relation(tokens: tuple[Token, ...], index: int) -> tuple[str, Token]:
    """How a name is reached from its verb, and the small word that says so, if one does."""
    for at in range(index - 1, -1, -1):
        token = tokens[at]
        before = tokens[at - 1] if at else EDGE
        if token.mark or token.verb is not None or token.can_be("joining"):
            return _DIRECT, EDGE
        if token.can_be("mentions") or token.can_be("refusing"):
            return _MENTIONED, token
        if token.can_be("touching"):
            taken_off = token.can_be("particles") and before.verb is not None
            return (_DIRECT if taken_off else _TOUCHED), token
    return _DIRECT, EDGE


def _state(tokens: tuple[Token, ...], index: int, parts: Parts) -> str:
    """The word by which a part is open or away while the step is done; empty without one."""
    before = tokens[index - 1] if index else EDGE
    attribute = before.meaning.verb is not None and before.meaning.verb.form == "past"
    if attribute and before.verb is None and before.text in parts.states:
        return before.text  # the removed caliper
    after = index + 1
    while after < len(tokens) and (
        tokens[after].can_be("being") or tokens[after].can_be("adverbs")
    ):
        after += 1
    state = tokens[after] if after < len(tokens) else EDGE
    if state.text in parts.states and _is_given(tokens, index):
        return state.text
    return state.text if _is_note(tokens, index, state) else ""


def _is_given(tokens: tuple[Token, ...], index: int) -> bool:
    """Whether this stands in "with the caliper off", "once the battery is disconnected"."""
    for at in range(index - 1, -1, -1):
        if tokens[at].can_be("given"):
            return True
        if tokens[at].mark or tokens[at].verb is not None:
            return False
    return False


def _is_note(tokens: tuple[Token, ...], index: int, state: Token) -> bool:
    """A bare note, "tank off", with nothing before the name in its clause."""
    after = tokens[index + 2] if index + 2 < len(tokens) else EDGE
    if state is not tokens[min(index + 1, len(tokens) - 1)] or not state.can_be("particles"):
        return False
    for at in range(index - 1, -1, -1):
        if tokens[at].mark:
            break
        if not tokens[at].can_be("articles"):
            return False
    return bool(after.mark) or after.can_be("joining")


def _by_pronoun(tokens: tuple[Token, ...], at: int) -> Iterator[Named]:
    """Work on what "it" or "them" stands for: the thing in hand of the verb before."""
    verb = tokens[at].verb
    if verb is None or not any(token.can_be("pronouns") for token in _span(tokens, at)):
        return
    first = next((i for i in range(at - 1, -1, -1) if _is_verb(tokens[i])), 0)
    for index in range(first, at):
        relation = _relation(tokens, index)[0]
        for parts in tokens[index].parts:
            held = relation is _DIRECT or (relation is _TOUCHED and not parts.body)
            if held and _counts(tokens, at, verb, parts, _DIRECT):
                yield Named(parts.hazard, f"{tokens[at].text} … {tokens[index].text}")
