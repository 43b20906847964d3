"""Which verb is done to which part: the pieces of hazard work that one text describes."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from assistant.safety.hazard_words import HazardWords
from assistant.safety.hazards import Hazard
from assistant.safety.lexicon import Parts, Verb
from assistant.safety.sentences import EDGE, Token, read

MENTIONED: Final = "mentioned"
TOUCHED: Final = "touched"
DIRECT: Final = "direct"


@dataclass(frozen=True, slots=True)
class Named:
    """Hazard work that some words describe, and those words."""

    hazard: Hazard
    words: str


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


def is_mentioned(tokens: tuple[Token, ...], index: int) -> bool:
    """Whether the part named at this token is only told of: "bolt behind the caliper"."""
    return relation(tokens, index)[0] == MENTIONED


def _verb_for(tokens: tuple[Token, ...], index: int, parts: Parts, words: HazardWords) -> str:
    """The verb or state that makes this name hazard work; empty when nothing does."""
    how, by = relation(tokens, index)
    given = by.can_be("given")  # "with the caliper off"
    if how == MENTIONED and not (given and _is_supply(tokens[index], words)):
        return _state(tokens, index, parts) if given else ""
    for at in verbs_on(tokens, index):
        verb = tokens[at].verb
        if verb is not None and _counts(tokens, at, verb, parts, how):
            return tokens[at].text
    return _state(tokens, index, parts)


def _is_supply(token: Token, words: HazardWords) -> bool:
    return any(token.words in supplies for supplies in words.supplies.values())


def verbs_on(tokens: tuple[Token, ...], index: int) -> Iterator[int]:
    """Verbs that are done to the part named here: those before it, and the one after it."""
    before = _back_to(tokens, index, is_verb)
    sharing = before
    while sharing is not None:
        yield sharing
        sharing = _shares_object(tokens, sharing)
    after = next((i for i in range(index + 1, len(tokens)) if is_verb(tokens[i])), None)
    if after is None or any(t.mark == "stop" for t in tokens[index:after]):
        return
    if before is None:
        # "The banjo bolt: loosen", but not "the caliper must move freely"
        begun = any(t.mark or t.can_be("pronouns") for t in tokens[index:after])
        if begun or _is_work(tokens[after]) or _is_said(tokens, after):
            yield after
    elif _is_done_to(tokens, index, before, after):
        yield after


def _shares_object(tokens: tuple[Token, ...], at: int) -> int | None:
    """The verb before, in "disconnect, cap and tag the line"; None where it has its own object."""
    for before in range(at - 1, -1, -1):
        token = tokens[before]
        if is_verb(token):
            return before
        if token.mark != "comma" and not token.can_be("joining") and not token.can_be("adverbs"):
            return None
    return None


def _is_work(token: Token) -> bool:
    return token.verb is not None and token.verb.work


def _is_done_to(tokens: tuple[Token, ...], index: int, before: int, after: int) -> bool:
    """Whether the verb after a name is done to it although another verb stands before."""
    if any(t.mark or t.can_be("joining") for t in tokens[index:after]):
        return False
    verb = tokens[after].verb
    if tokens[before].can_be("causing"):
        return verb is not None and verb.form == "past"  # have the fluid changed
    # "and the tank is lifted", "while the tank is lifted", but not "see that the tank is lifted"
    boundary = _back_to(tokens, index, is_boundary)
    return boundary is not None and boundary > before and _is_said(tokens, after)


def is_verb(token: Token) -> bool:
    """Whether it is a verb, and not only one that tells which part is meant."""
    return token.verb is not None and not token.through


def is_boundary(token: Token) -> bool:
    """Whether a clause can begin after it."""
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


def _counts(tokens: tuple[Token, ...], at: int, verb: Verb, parts: Parts, how: str) -> bool:
    """Whether this verb, reached in this way, is work on these parts."""
    if verb.name in parts.exempt or refused(tokens, at):
        return False
    following = span(tokens, at)
    by_name = verb.name in parts.verbs
    general = verb.work and not parts.only
    if general and verb.particles:
        general = any(_goes_with(token, verb) for token in following)
    if not (by_name or general):
        return False
    if parts.body and how == TOUCHED:
        # Something lies on the tank, or is bolted to it: only the latter is work on it.
        return general and any(token.can_be("fittings") and not token.verb for token in following)
    return True


def _goes_with(token: Token, verb: Verb) -> bool:
    """Whether this is one of the verb's particles: "out", also the one in "out of the box"."""
    small = token.can_be("particles") or token.can_be("touching")
    return small and token.words[0] in verb.particles


def span(tokens: tuple[Token, ...], at: int) -> tuple[Token, ...]:
    """What follows a verb up to the next one or the end of the sentence."""
    end = at + 1
    while end < len(tokens) and tokens[end].mark != "stop" and not is_verb(tokens[end]):
        end += 1
    return tokens[at + 1 : end]


def refused(tokens: tuple[Token, ...], at: int) -> bool:
    """Whether the text says that this is not to be done here."""
    either = False
    for before in range(at - 1, -1, -1):
        token = tokens[before]
        if is_verb(token):
            return either and refused(tokens, before)
        if token.can_be("refusing"):
            return True
        if token.can_be("refusing_said") and _is_said(tokens, at):
            return True
        if token.mark:  # "do not loosen, remove or open"
            sharing = _shares_object(tokens, at)
            return sharing is not None and refused(tokens, sharing)
        either = either or token.can_be("either")
    return False


def relation(tokens: tuple[Token, ...], index: int) -> tuple[str, Token]:
    """How a name is reached from its verb, and the small word that says so, if one does."""
    for at in range(index - 1, -1, -1):
        token = tokens[at]
        before = tokens[at - 1] if at else EDGE
        if token.mark or token.verb is not None or token.can_be("joining"):
            return DIRECT, EDGE
        if token.can_be("mentions") or token.can_be("refusing"):
            return MENTIONED, token
        if token.can_be("touching"):
            if token.can_be("side_of") and before.can_be("articles"):
                return relation(tokens, at - 1)  # the rear of the tank
            taken_off = token.can_be("particles") and before.verb is not None
            return (DIRECT if taken_off else TOUCHED), token
    return DIRECT, EDGE


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
    if state.text in parts.states and is_given(tokens, index):
        return state.text
    return state.text if is_note(tokens, index, state) else ""


def is_given(tokens: tuple[Token, ...], index: int) -> bool:
    """Whether this stands in "with the caliper off", "once the battery is disconnected"."""
    for at in range(index - 1, -1, -1):
        if tokens[at].can_be("given"):
            return True
        if tokens[at].mark or tokens[at].verb is not None:
            return False
    return False


def is_note(tokens: tuple[Token, ...], index: int, state: Token) -> bool:
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
    if verb is None or not _speaks_of_last(span(tokens, at)):
        return
    first = next((i for i in range(at - 1, -1, -1) if is_verb(tokens[i])), 0)
    for index in range(first, at):
        if not any(is_boundary(token) for token in tokens[index:at]):
            continue  # "the caliper must move on its pins"
        how = relation(tokens, index)[0]
        for parts in tokens[index].parts:
            held = how == DIRECT or (how == TOUCHED and not parts.body)
            if held and _counts(tokens, at, verb, parts, DIRECT):
                yield Named(parts.hazard, f"{tokens[at].text} … {tokens[index].text}")


def _speaks_of_last(following: tuple[Token, ...]) -> bool:
    """Whether "it", "them" or "its hose" stands here."""
    return any(
        token.can_be("pronouns") or (token.can_be("owners") and after.can_be("fittings"))
        for token, after in itertools.zip_longest(following, following[1:], fillvalue=EDGE)
    )
