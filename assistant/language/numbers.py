"""Spoken numbers: what may be said, what it is worth, and how the voice says it.

The words are data (numbers.yaml of the language). The shapes are the same for all of them:

* digit by digit, up to four, then "point" and up to three more (ICAO Doc 9432 speaks
  figures this way: one two point four);
* cardinals from 0 to 999, also with "point" and digits: twenty two point five;
* proper fractions of the inch rule and thirds, alone or after "N and": one and one half.

A number has one value, whichever way it is said; words that could be two are none.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from itertools import product
from typing import Final

from assistant.language.expression import normalize
from assistant.language.number_words import (
    MOST_DECIMALS,
    MOST_DIGITS,
    NumberWords,
    Words,
    load_numbers,
)
from assistant.trade.quantity import number_text

__all__ = [
    "NumberWords",
    "digits",
    "load_numbers",
    "parse_characters",
    "parse_digits",
    "parse_number",
    "read_back",
    "speak_fraction",
    "speak_number",
    "speak_whole",
    "spell",
]

MOST_SPOKEN: Final = 999_999


def parse_number(words: str | Sequence[str], lang: NumberWords) -> Fraction | None:
    """What these words are worth, exact; None when they are no number or could be two.

    Everything that the grammar admits and everything that `speak_number` says (but minus) is
    understood.
    """
    said = normalize(words) if isinstance(words, str) else tuple(words)
    found = _readings(said, lang)
    return next(iter(found)) if len(found) == 1 else None


def _readings(said: Words, lang: NumberWords) -> set[Fraction]:
    found = _decimals(said, lang)
    if said in lang.proper_fractions:
        found.add(lang.proper_fractions[said])
    for way, at in product(lang.and_, range(1, len(said))):
        rest = said[at + len(way) :]
        if said[at : at + len(way)] == way and rest in lang.after_and:
            found |= {w + lang.after_and[rest] for w in _wholes(said[:at], lang)}
    return found


def _wholes(said: Words, lang: NumberWords) -> set[Fraction]:
    found = set[Fraction]()
    figures = parse_digits(said, lang)
    if figures is not None and len(figures) <= MOST_DIGITS:
        found.add(Fraction(figures))
    if said in lang.cardinals:
        found.add(Fraction(lang.cardinals[said]))
    for at in range(1, len(said)):
        end = at + len(lang.thousand)
        if lang.thousand and said[at:end] == lang.thousand and said[:at] in lang.cardinals:
            rest = lang.cardinals.get(said[end:]) if said[end:] else 0
            if rest is not None:
                found.add(Fraction(1000 * lang.cardinals[said[:at]] + rest))
    return found


def _decimals(said: Words, lang: NumberWords) -> set[Fraction]:
    found = _wholes(said, lang)
    for way, at in product(lang.point, range(1, len(said))):
        if said[at : at + len(way)] != way:
            continue
        places = parse_digits(said[at + len(way) :], lang)
        if places is not None and len(places) <= MOST_DECIMALS:
            scale = 10 ** len(places)
            found |= {w + Fraction(int(places), scale) for w in _wholes(said[:at], lang)}
    return found


def parse_digits(words: str | Sequence[str], lang: NumberWords) -> str | None:
    """The figures said: seven three -> "73"; None when anything else is among them."""
    said = normalize(words) if isinstance(words, str) else tuple(words)
    figures = [lang.digit_values.get(word) for word in said]
    return "".join(f for f in figures if f) if figures and all(figures) else None


def parse_characters(words: str | Sequence[str], lang: NumberWords) -> str | None:
    """The characters said: alfa one dash seven -> "A17"; None when a word is no character."""
    said = normalize(words) if isinstance(words, str) else tuple(words)
    names = {way: letter for letter, ways in lang.letters.items() for way in ways}
    names.update({(word,): figure for word, figure in lang.digit_values.items()})
    names.update(dict.fromkeys(lang.separators, ""))
    longest = max(map(len, names))
    found, at = "", 0
    while at < len(said):
        for size in range(longest, 0, -1):
            if said[at : at + size] in names:
                found += names[said[at : at + size]]
                at += size
                break
        else:
            return None
    return found or None


def digits(text: str, lang: NumberWords) -> str:
    """Digit by digit: "73" -> "seven three", "12.4" -> "one two point four".

    Raises:
        ValueError: the text has something else than figures and one point.
    """
    names = {figure: ways[0] for figure, ways in lang.digits.items()} | {".": lang.point[0]}
    if not text or text.count(".") > 1 or any(sign not in names for sign in text):
        msg = f'"{text}" can\'t be said digit by digit; only figures and one point'
        raise ValueError(msg)
    return " ".join(word for sign in text for word in names[sign])


def spell(text: str, lang: NumberWords) -> str:
    """A part number, character by character: "A12-7" -> "alfa one two dash seven".

    Raises:
        ValueError: a character that has no name in this language.
    """
    names = {figure: ways[0] for figure, ways in lang.digits.items()}
    names.update({letter: ways[0] for letter, ways in lang.letters.items()})
    if lang.separators:
        names["-"] = lang.separators[0]
    for sign in text.upper():
        if sign not in names:
            msg = f'"{sign}" in "{text}" has no name in the spelling alphabet of {lang.language}'
            raise ValueError(msg)
    return " ".join(word for sign in text.upper() for word in names[sign])


def speak_whole(value: int, lang: NumberWords) -> str:
    """22 -> "twenty two", 1200 -> "one thousand two hundred"; above 999 999 digit by digit."""
    if value < 0:
        return " ".join((*lang.minus, speak_whole(-value, lang)))
    thousands, rest = divmod(value, 1000)
    if value > MOST_SPOKEN or (thousands and not lang.thousand):
        return digits(str(value), lang)
    words = lang.cardinal_words
    said: Words = (*words[thousands], *lang.thousand) if thousands else ()
    if rest or not thousands:
        said += words[rest]
    return " ".join(said)


def speak_fraction(value: Fraction, lang: NumberWords) -> str:
    """Fraction(9, 16) -> "nine sixteenths", Fraction(3, 2) -> "one and one half"."""
    whole, rest = divmod(value.numerator, value.denominator)
    if value.denominator in lang.fractions:
        one, many, _ = lang.fractions[value.denominator]
        part = " ".join((*lang.small[rest], *(one if rest == 1 else many)[0]))
    elif lang.over:
        part = " ".join((speak_whole(rest, lang), *lang.over, speak_whole(value.denominator, lang)))
    else:
        msg = f"{value} has no words in {lang.language}"
        raise ValueError(msg)
    if not whole:
        return part
    joined = lang.and_[0] if lang.and_ else ()
    return " ".join((speak_whole(whole, lang), *joined, part))


def speak_number(value: Fraction, lang: NumberWords) -> str:
    """A number as the voice says it: 22.5 -> "twenty two point five", 9/16 -> "nine sixteenths".

    Decimal or fraction as `trade.quantity.number_text` would write it.
    """
    if value < 0:
        return " ".join((*lang.minus, speak_number(-value, lang)))
    text = number_text(value)
    if "/" in text:
        return speak_fraction(value, lang)
    whole, _, places = text.partition(".")
    said = speak_whole(int(whole), lang)
    return " ".join((said, *lang.point[0], digits(places, lang))) if places else said


def read_back(value: Fraction, lang: NumberWords) -> str:
    """A number digit by digit, for the ear to check: 13 -> "one three", 9/16 as a fraction."""
    text = number_text(abs(value))
    said = speak_fraction(abs(value), lang) if "/" in text else digits(text, lang)
    return " ".join((*lang.minus, said)) if value < 0 else said
