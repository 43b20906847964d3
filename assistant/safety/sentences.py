"""A step's text as words with their meanings: which are verbs here, and which are names of parts.

English word order, in general terms: what a verb is depends on the words around it, and that is
decided here once; `detection` then asks only which verb is done to which part.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from typing import Final

from assistant.safety.lexicon import Meaning, Parts, Thing, Verb, Words

_PIECE: Final = re.compile(
    r"(?P<stop>[.;!?]+(?=\s|$))|(?P<colon>[:–—]|\s-\s)|(?P<comma>[,()\"“”/]|…)"
    r"|(?P<word>[^\W_]+(?:[.'’][^\W_]+)*)"
)
_POSSESSIVE: Final = ("'s", "s'")
_NOTHING: Final = Meaning()
_PAST_OR_GOING: Final = ("past", "going")


@dataclass(frozen=True, slots=True)
class Token:
    """A word or phrase of the lexicon, another word, or a mark.

    Attributes:
        mark: "stop", "colon" or "comma"; empty for words.
        words: normalized.
        verb: set where it is a verb in this place.
        parts: the hazards' parts that it names in this place.
        things: what it names here that events are done to.
        through: a verb inside a description, "the bolts that hold the tank": what it is done to
            belongs to the verb before it.
    """

    mark: str
    words: tuple[str, ...]
    meaning: Meaning
    verb: Verb | None = None
    parts: tuple[Parts, ...] = ()
    things: tuple[Thing, ...] = ()
    through: bool = False

    @property
    def text(self) -> str:
        """Its words, as one text."""
        return " ".join(self.words)

    def can_be(self, role: str) -> bool:
        """Whether it can be a small word of this kind."""
        return role in self.meaning.roles


EDGE: Final = Token("stop", (), _NOTHING)


def read(text: str, words: Words) -> tuple[Token, ...]:
    """The text's tokens, with verbs and names of parts told apart; none where no part is named."""
    pieces = _pieces(text)
    if not any(word in words.beginnings for _, word in pieces):
        return ()  # most texts: nothing else in them matters then
    tokens = _named_parts(_tokens(pieces, words))
    for index in range(len(tokens)):
        tokens[index] = _as_verb(tokens, index)
    return tuple(tokens)


def _pieces(text: str) -> list[tuple[str, str]]:
    """Each mark (its name, no word) and each word (no name) of the text."""
    pieces: list[tuple[str, str]] = []
    for found in _PIECE.finditer(unicodedata.normalize("NFC", text)):
        kind = found.lastgroup or ""
        pieces.append(("", _plain(found[0])) if kind == "word" else (kind, ""))
    return pieces


def _tokens(pieces: list[tuple[str, str]], words: Words) -> list[Token]:
    tokens = []
    at = 0
    while at < len(pieces):
        mark = pieces[at][0]
        token = Token(mark, (), _NOTHING) if mark else _longest(pieces, at, words)
        tokens.append(token)
        at += max(1, len(token.words))
    return tokens


def _plain(word: str) -> str:
    """One case, no possessive ending."""
    word = word.casefold().replace("’", "'")
    return next((word.removesuffix(end) for end in _POSSESSIVE if word.endswith(end)), word)


def _longest(pieces: list[tuple[str, str]], at: int, words: Words) -> Token:
    """The longest phrase of the lexicon that begins here, else the word alone."""
    for phrase, meaning in words.phrases.get(pieces[at][1], ()):
        if tuple(word for _, word in pieces[at : at + len(phrase)]) == phrase:
            return Token("", phrase, meaning)
    return Token("", (pieces[at][1],), _NOTHING)


def _named_parts(tokens: list[Token]) -> list[Token]:
    """With the parts that each token names; "tank pad" names no tank."""
    named = []
    for index, token in enumerate(tokens):
        following = _words_after(tokens, index)
        parts = tuple(
            parts
            for parts in token.meaning.parts
            if not any(following[: len(words)] == words for words in parts.another)
        )
        things = tuple(
            thing
            for thing in token.meaning.things
            if not any(following[: len(words)] == words for words in thing.another)
        )
        if not token.meaning.lookalike:
            named.append(replace(token, parts=parts, things=things))
        else:
            named.append(token)
    return named


def _words_after(tokens: list[Token], index: int) -> tuple[str, ...]:
    words: list[str] = []
    for token in tokens[index + 1 : index + 4]:
        if token.mark:
            break
        words.extend(token.words)
    return tuple(words)


def _as_verb(tokens: list[Token], index: int) -> Token:
    """The token as a verb, if it is one here; those before it are settled already."""
    token = tokens[index]
    before = tokens[index - 1] if index else EDGE
    after = tokens[index + 1] if index + 1 < len(tokens) else EDGE
    verb = token.meaning.verb
    if verb is None or token.meaning.lookalike or token.parts or token.things:
        return _unknown_verb(token, before, after)
    if not (_is_verb(token, verb, before, after) or _has_doer(tokens, index)):
        return token
    earlier = tokens[index - 2] if index > 1 else EDGE
    return replace(token, verb=verb, through=_describes(verb, before, earlier))


def _unknown_verb(token: Token, before: Token, after: Token) -> Token:
    """A word outside the lexicon where only a verb can stand: ", polish the", "and sand its"."""
    known = token.meaning.roles or token.meaning.verb or token.meaning.lookalike or token.parts
    if token.mark or known or token.things:
        return token
    begins = (
        before.mark in ("comma", "colon") or before.can_be("joining") or before.can_be("adverbs")
    )
    if begins and (after.can_be("articles") or after.can_be("pronouns")):
        verb = Verb(token.text, "plain", work=False, particles=frozenset(), noun=True)
        return replace(token, verb=verb)
    return token


def _is_verb(token: Token, verb: Verb, before: Token, after: Token) -> bool:
    if before.can_be("articles") and not before.can_be("adverbs"):
        return False  # the fit, a drain, the removed caliper
    if verb.form in _PAST_OR_GOING and not token.can_be("fittings"):
        return True
    if verb.form == "present" and (verb.noun or token.can_be("fittings")):
        return bool(before.parts or before.things) or before.can_be(
            "pronouns"
        )  # the tank lifts off
    if not verb.noun and not token.can_be("fittings"):
        return True
    if token.can_be("fittings") and after.can_be("fittings"):
        return False  # drain hose, clamp bolt
    return _can_begin(verb, before, after)


def _has_doer(tokens: list[Token], index: int) -> bool:
    """Whether somebody named before does this: "two people push the", "have Ines turn the"."""
    token, before = tokens[index], tokens[index - 1] if index else EDGE
    after = tokens[index + 1] if index + 1 < len(tokens) else EDGE
    takes_object = after.can_be("articles") or after.can_be("pronouns")
    unknown = before.words and not (before.meaning.roles or before.meaning.verb or before.parts)
    if not (takes_object and unknown and token.verb is None and not before.things):
        return False
    for earlier in reversed(tokens[: index - 1]):
        if earlier.mark or earlier.can_be("joining") or earlier.can_be("causing"):
            return True
        if earlier.verb is not None:
            return False
    return True


def _can_begin(verb: Verb, before: Token, after: Token) -> bool:
    """Whether a word that is often a noun stands where a verb begins."""
    if before.mark in ("stop", "colon"):
        return True
    opener = any(
        before.can_be(role)
        for role in ("adverbs", "modals", "refusing", "pronouns", "relative", "given")
    )
    if opener:
        return True
    if before.mark or before.can_be("joining"):
        goes_on = after.can_be("touching") or after.can_be("mentions") or bool(after.mark)
        return not goes_on or after.text in verb.particles
    return False


def _describes(verb: Verb, before: Token, earlier: Token) -> bool:
    """Whether this verb only tells which part is meant."""
    if before.can_be("relative") and not before.verb and not earlier.mark and earlier.verb is None:
        return True
    named = before.can_be("fittings") or bool(before.parts)
    return verb.form == "going" and not verb.work and named and before.verb is None
