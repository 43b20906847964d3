"""Events that a step's words tell to bring about although the step carries no tag for them (I7).

The ignition switched on, the engine started, the machine moved: hazards and interlocks forbid
these at times, so each must be known to the proof. A verb and the thing it is done to, in one
clause, are an event unless the verb is refused; "it" is the thing in hand, or the machine where
nothing in the text is named that it could be. In doubt it is an event: an author who knows better
writes the reason, and the record shows it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from assistant.checklist.loader import Loaded
from assistant.checklist.model import Step
from assistant.checklist.tags import EventTag
from assistant.errors import Finding
from assistant.safety.event_words import EventWords
from assistant.safety.lexicon import Need, Thing
from assistant.safety.sentences import EDGE, Token, read
from assistant.safety.work import (
    DIRECT,
    TOUCHED,
    is_boundary,
    is_given,
    is_verb,
    refused,
    relation,
    verbs_on,
)

__all__ = ["NamedEvent", "events_named", "findings", "untagged_events"]

CODE: Final = "untagged-event"
_EACH: Final = "{each}"

# An engine runs only with the ignition on, and what forbids the ignition forbids the start.
_ANSWERS: Final[Mapping[EventTag | None, frozenset[EventTag]]] = {
    None: frozenset(),
    EventTag.IGNITION_ON: frozenset({EventTag.IGNITION_ON}),
    EventTag.ENGINE_START: frozenset({EventTag.IGNITION_ON, EventTag.ENGINE_START}),
    EventTag.MACHINE_MOVED: frozenset({EventTag.MACHINE_MOVED}),
}
_IS: Final = {
    EventTag.IGNITION_ON: "switches the ignition on",
    EventTag.ENGINE_START: "runs the engine",
    EventTag.MACHINE_MOVED: "moves the machine",
}


@dataclass(frozen=True, slots=True)
class NamedEvent:
    """An event that some words tell to bring about, and those words."""

    event: EventTag
    words: str


def events_named(text: str, words: EventWords) -> tuple[EventTag, ...]:
    """The events that a text tells to bring about, in the order of `EventTag`."""
    found = {named.event for named in _named(text, words)}
    return tuple(event for event in EventTag if event in found)


def untagged_events(step: Step, words: EventWords) -> tuple[EventTag, ...]:
    """The events of a step's text that its tag does not answer for.

    A reason that the author wrote (`hazard_reason`) changes nothing here.
    """
    found = {named.event for named in _untagged(step, words, ())}
    return tuple(event for event in EventTag if event in found)


def findings(loaded: Loaded, words: EventWords) -> tuple[Finding, ...]:
    """An error for each step and event without tag or reason, at the line of the step's text."""
    found: list[Finding] = []
    for part, index, step in loaded.steps():
        if step.hazard_reason is not None:
            continue
        told: dict[EventTag, str] = {}
        for named in _untagged(step, words, part.section.each):
            told.setdefault(named.event, named.words)
        if EventTag.ENGINE_START in told:
            told.pop(EventTag.IGNITION_ON, None)  # the one tag answers for both
        line = part.line(index, "do")
        found.extend(
            Finding("error", CODE, part.file, line, _message(step, event, told[event]))
            for event in EventTag
            if event in told
        )
    return tuple(found)


def _message(step: Step, event: EventTag, words: str) -> str:
    if step.hazards.event is None:
        lacks, write = "the step has no event tag", f"write hazards: {{event: {event.value}}}"
    else:
        lacks = f"the step's tag says only event: {step.hazards.event.value}"
        write = f"make it a step of its own with hazards: {{event: {event.value}}}"
    return (
        f'step "{step.step}": "{words}" {_IS[event]}, but {lacks}; {write}, or a hazard_reason: '
        "with a sentence why it is no such event (I7)"
    )


def _untagged(step: Step, words: EventWords, each: tuple[str, ...]) -> Iterator[NamedEvent]:
    """What the text, the conditions of readings and the held thing tell, and no tag answers for."""
    answered = _ANSWERS[step.hazards.event]
    texts = [step.do, *(reading.condition or "" for reading in step.readings)]
    if step.hold is not None:
        texts.append(step.hold.what)
    for value in (*each, *step.each) or ("",):
        for text in texts:
            for named in _named(text.replace(_EACH, value), words):
                if named.event not in answered:
                    yield named


def _named(text: str, words: EventWords) -> Iterator[NamedEvent]:
    """Each event that a text tells to bring about, with the words that do."""
    tokens = read(text, words)
    for index, token in enumerate(tokens):
        for thing in token.things:
            by = _brought_about(tokens, index, thing, words)
            if by:
                yield NamedEvent(thing.event, f"{by} … {token.text}")
    for at, token in enumerate(tokens):
        if is_verb(token) and not _is_refused(tokens, at):
            yield from _by_it(tokens, at, words)


def _brought_about(tokens: tuple[Token, ...], index: int, thing: Thing, words: EventWords) -> str:
    """The verb or state by which the thing named here makes an event; empty without one."""
    if thing.alone and _begins(tokens, index):
        return "do"
    how = relation(tokens, index)[0]
    if how == DIRECT or (how == TOUCHED and thing.touched):
        for at in verbs_on(tokens, index):
            need = _need(tokens, at, thing.verbs)
            if need is not None and _met(tokens, at, need, words) and not _is_refused(tokens, at):
                return tokens[at].text
    return _state(tokens, index, thing, words)


def _need(tokens: tuple[Token, ...], at: int, verbs: Mapping[str, Need]) -> Need | None:
    verb = tokens[at].verb
    return verbs.get(verb.name) if verb is not None else None


def _met(tokens: tuple[Token, ...], at: int, need: Need, words: EventWords) -> bool:
    """Whether what must go with the verb does, up to the next mark or verb (and that too)."""
    following = _with(tokens, at)
    if any(need.unless.intersection(token.words) for token in following):
        return False
    if not need.given:
        return True
    for place, token in enumerate(following):
        if need.given.intersection(token.words):
            return True
        if words.opposite.intersection(token.words):
            # "off and on again", "from off to on", but not "off until the tank is back on"
            return any(need.given.intersection(t.words) for t in following[place + 1 : place + 3])
    return False


def _with(tokens: tuple[Token, ...], at: int) -> tuple[Token, ...]:
    end = at + 1
    while end < len(tokens) and not tokens[end].mark:
        end += 1
        if is_verb(tokens[end - 1]):
            break
    return tokens[at + 1 : end]


def _is_refused(tokens: tuple[Token, ...], at: int) -> bool:
    """Whether the text says that this is not to be done: also "nobody may start the engine"."""
    if refused(tokens, at):
        return True
    for before in range(at - 1, -1, -1):
        if tokens[before].can_be("refusing_said"):
            return True
        if not (tokens[before].can_be("modals") or tokens[before].can_be("adverbs")):
            return False
    return False


def _begins(tokens: tuple[Token, ...], index: int) -> bool:
    before = tokens[index - 1] if index else EDGE
    return bool(before.mark) or before.can_be("joining") or before.can_be("adverbs")


def _state(tokens: tuple[Token, ...], index: int, thing: Thing, words: EventWords) -> str:
    """The word by which the event has come about while the step is done; empty without one.

    "With the ignition on", "while the engine is running", or as a note that begins a clause:
    "Key on.", "The ignition must be on."
    """
    after = index + 1
    while _is_between(tokens, after, words):
        after += 1
    state = _at(tokens, after)
    if state.text not in thing.states or not state.words:
        return ""
    end = _at(tokens, after + 1)
    if after == index + 1 and end.can_be("articles"):
        return ""  # with the key on the board
    if is_given(tokens, index):
        return state.text
    begins = index
    while begins and tokens[begins - 1].can_be("articles"):
        begins -= 1
    note = _begins(tokens, begins) and (end.mark or end.can_be("joining"))
    return state.text if note else ""


def _is_between(tokens: tuple[Token, ...], at: int, words: EventWords) -> bool:
    """Whether this can stand between a name and its state: "must be", "warm and"."""
    token = _at(tokens, at)
    if token.can_be("joining"):
        return _at(tokens, at - 1).text in words.between
    small = any(token.can_be(role) for role in ("being", "adverbs", "modals"))
    return small or token.text in words.between


def _has_it(tokens: tuple[Token, ...], at: int) -> bool:
    """Whether "it" is what the verb is done to: right after it, or after its small word."""
    for place in (at + 1, at + 2):
        token, after = _at(tokens, place), _at(tokens, place + 1)
        if token.can_be("pronouns"):
            return "it" in token.words
        if token.text == "her" and (after.mark or after.can_be("particles")):
            return True
        if not (token.can_be("particles") or token.can_be("adverbs")):
            return False
    return False


def _lacks_it(tokens: tuple[Token, ...], at: int) -> bool:
    """Whether nothing is said that the verb is done to: "and switch on.", "ride to the gate"."""
    after = _at(tokens, at + 1)
    if after.can_be("particles") and _at(tokens, at + 2).mark:
        return True
    small = ("touching", "mentions", "given", "refusing", "joining", "adverbs")
    return bool(after.mark) or (
        not after.can_be("articles") and any(after.can_be(role) for role in small)
    )


def _at(tokens: tuple[Token, ...], index: int) -> Token:
    return tokens[index] if index < len(tokens) else EDGE


def _by_it(tokens: tuple[Token, ...], at: int, words: EventWords) -> Iterator[NamedEvent]:
    """Events on what "it" stands for: a thing named before, or the machine when nothing is."""
    verb = tokens[at].verb
    has = _has_it(tokens, at)
    told = at > 0 and tokens[at - 1].can_be("relative")  # "ask who rode it last"
    if verb is None or told or not (has or _lacks_it(tokens, at)):
        return
    shown = f"{tokens[at].text} it" if has else tokens[at].text
    meant = _antecedent(tokens, at, words)
    for thing in tokens[meant].things if meant is not None else ():
        need = thing.verbs.get(verb.name)
        # Without an "it" only a small word makes sure: "insert the key and switch on".
        sure = need is not None and (has or bool(need.given))
        if need is not None and sure and _met(tokens, at, need, words):
            yield NamedEvent(thing.event, f"{tokens[at].text} … {tokens[meant or 0].text}")
    near = {word for token in _with(tokens, at) for word in token.words}
    if has and verb.name in words.rolling and words.places & near:
        yield NamedEvent(EventTag.MACHINE_MOVED, shown)
    elif meant is None if has else verb.form == "plain" and verb.name in words.objectless:
        for event, name, need in words.unnamed:
            if name == verb.name and _met(tokens, at, need, words):
                yield NamedEvent(event, shown)


def _antecedent(tokens: tuple[Token, ...], at: int, words: EventWords) -> int | None:
    """Where the thing is named that "it" after this verb stands for; None when nowhere."""
    for before in range(at - 1, -1, -1):
        if is_verb(tokens[before]):
            if _has_it(tokens, before):
                return _antecedent(tokens, before, words)
            held = _object(tokens, before, at, words)
            if held is not None:
                return held
    return _object(tokens, -1, at, words)


def _object(tokens: tuple[Token, ...], after: int, end: int, words: EventWords) -> int | None:
    """The first name between a verb and the next that can be an "it"."""
    for index in range(after + 1, end):
        token = tokens[index]
        if is_boundary(token) or is_verb(token):
            return None
        plural = token.text.endswith("s") and not token.text.endswith("ss")
        unknown = not token.meaning.roles or token.can_be("fittings")
        unknown = unknown and token.text not in words.never_it
        if (token.things or unknown) and not plural:
            return index
    return None
