"""Reads a written text from left to right and says each piece in words."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field

from assistant.errors import NotSpeakable
from assistant.language.numbers import digits, speak_whole, spell
from assistant.language.shapes import (
    BY,
    CODE,
    DASHED,
    DECIMAL,
    FIGURES,
    FOLLOWING,
    LETTER,
    METRIC,
    MINUS,
    MIXED,
    NAME,
    OIL,
    OPENED,
    OPERATOR,
    ORDINAL,
    PAUSE,
    QUOTE,
    RUN,
    STAINLESS,
    TIMES,
    UNIFIED,
    VERSION,
    WINTER_OIL,
    WORD,
)
from assistant.language.wording_table import PAUSES, Wording

_Shape = tuple[re.Pattern[str], Callable[[re.Match[str]], str | None]]


@dataclass
class Reader:
    """Reads a text from left to right, shape by shape."""

    text: str
    wording: Wording
    at: int = 0
    out: list[str] = field(default_factory=list)

    def read(self) -> str:
        """The whole text in words, pieces parted by spaces.

        Raises:
            NotSpeakable: a piece that no shape knows.
        """
        shapes = self._shapes()
        while self.at < len(self.text):
            said = next((w for shape in shapes if (w := self._try(*shape)) is not None), None)
            if said is None:
                raise NotSpeakable(self.text[self.at], self.text)
            self.out.append(said)
        return " ".join(self.out)

    def _try(
        self, pattern: re.Pattern[str], say: Callable[[re.Match[str]], str | None]
    ) -> str | None:
        match, start = pattern.match(self.text, self.at), self.at
        said = say(match) if match is not None else None
        self.at = start if match is None or said is None else max(self.at, match.end())
        return said

    def _shapes(self) -> tuple[_Shape, ...]:
        """What is tried at each place, in this order."""
        table = self.wording
        return (
            (re.compile(" "), lambda _: ""),
            (table.before_number_pattern, lambda m: table.before_number[m.group()]),
            (METRIC, self._metric),
            (UNIFIED, self._unified),
            (NAME, self._spelled),
            (table.word_pattern, lambda m: table.words[m.group()]),
            (table.before_pattern, lambda m: table.before[m.group()]),
            (BY, lambda _: table.between["×"]),
            (MINUS, self._minus),
            (OIL, self._oil),
            (WINTER_OIL, lambda m: f"{self._whole(m['cold'])} W"),
            (STAINLESS, self._stainless),
            (DASHED, self._dashed),
            (FIGURES, self._figures),
            (VERSION, self._version),
            (ORDINAL, self._ordinal),
            (RUN, self._run),
            (CODE, self._code),
            (MIXED, lambda m: spell(m.group(), table.numbers)),
            (table.named_pattern, self._named_unit),
            (table.alone_pattern, lambda m: table.units[m["unit"]].many),
            (WORD, self._word),
            (PAUSE, self._pause),
            (QUOTE, lambda _: ""),
        )

    # What stands before and after

    def _said_last(self, endings: tuple[str, ...]) -> bool:
        said = " ".join(" ".join(self.out[-8:]).split()).casefold()
        return any(said == ending or said.endswith(f" {ending}") for ending in endings)

    def _quoted(self) -> bool:
        """Whether a quotation in double quotes is open here."""
        return self.text.count('"', 0, self.at) % 2 == 1

    def _opened(self) -> bool:
        """Whether a single quote has opened a quotation; an apostrophe has not."""
        return OPENED.search(self.text, 0, self.at) is not None

    def _noun_follows(self, at: int) -> bool:
        """Whether a noun that a measure qualifies comes next, adjectives between or not."""
        while match := FOLLOWING.match(self.text, at):
            at = match.end()
            if match[1] in self.wording.singular_before:
                return True
            if match[1] not in self.wording.adjectives:
                return False
        return False

    # Numbers

    def _whole(self, figures: str) -> str:
        if len(figures) > 1 and figures.startswith("0"):
            return digits(figures, self.wording.numbers)
        return speak_whole(int(figures), self.wording.numbers)

    def _number(self, written: str) -> str:
        """One number as it is written: 1 1/2, 9/16, 12.40, 1,200."""
        lang = self.wording.numbers
        if "/" in written:
            whole, _, part = re.sub("[ -]", " ", written).rpartition(" ")
            said = self._fraction(part)
            return " ".join((self._whole(whole), *lang.and_[0], said)) if whole else said
        whole, point, places = written.replace(",", "").partition(".")
        said = self._whole(whole or "0")
        return " ".join((said, *lang.point[0], digits(places, lang))) if point else said

    def _fraction(self, written: str) -> str:
        lang = self.wording.numbers
        above, _, below = written.partition("/")
        names = lang.fractions.get(int(below))
        if names is None or not 0 < int(above) < int(below):
            return " ".join((self._whole(above), *lang.over, self._whole(below)))
        one, many, _ = names
        return " ".join((*lang.small[int(above)], *(one if int(above) == 1 else many)[0]))

    def _run(self, match: re.Match[str]) -> str | None:
        """Numbers with signs between them, and the unit after each that has one."""
        written, self.at, several = match.group(), match.end(), False
        said: list[str] = []
        while True:
            said.append(self._number(written))
            unit = self._unit(written, several=several)
            operator = OPERATOR.match(self.text, self.at)
            if unit is not None:
                said.append(unit)
            if operator is None:
                break
            self.at = operator.end()
            follower = RUN.match(self.text, self.at)
            if follower is None:
                return None
            sign = operator.group().strip()
            if sign == ":":
                said.extend(self._ratio(follower.group()))
                written = ""
            else:
                said.append(self._between(sign))
                written = follower.group()
            self.at, several = follower.end(), True
            if not written:
                break
        return self._after_run(said, named=unit is not None)

    def _after_run(self, said: list[str], *, named: bool) -> str | None:
        """What may stick to a number: "4 ×" before a thing, a single letter as in 2A."""
        if times := TIMES.match(self.text, self.at):
            self.at = times.end()
        elif not named and (letter := LETTER.match(self.text, self.at)):
            said.append(letter.group().upper())
            self.at = letter.end()
        elif re.compile(r"[^\W_]").match(self.text, self.at):
            return None
        elif self.text.startswith("-", self.at):
            self.at += 1  # 3-way, 12-point
        elif self.text.startswith(("'", "’", "′"), self.at) and not self._opened():
            raise NotSpeakable(self.text[self.at], self.text)  # feet or minutes: write it out
        return " ".join(said)

    def _ratio(self, written: str) -> list[str]:
        """After a colon: two figures are minutes, else it is a ratio."""
        if re.fullmatch("[0-5][0-9]", written):
            return [self._whole(written)]
        return [self.wording.between["ratio"], self._number(written)]

    def _between(self, sign: str) -> str:
        if sign == "-" and self._said_last(self.wording.dash_after):
            return self.wording.between["dash"]
        return self.wording.between[sign]

    def _unit(self, written: str, *, several: bool) -> str | None:
        """The unit that comes next, in the singular or plural; None when none does."""
        match = self.wording.unit_pattern.match(self.text, self.at)
        if match is None or (match["join"] == "-" and not match["unit"].isalpha()):
            return None
        if match["unit"] == '"' and self._quoted():
            return None
        names, end = self.wording.units[match["unit"]], match.end()
        if match["unit"] == "in" and match["join"] != "-" and not self._is_inch(written, end):
            return None
        self.at = end
        single = not several and (written == "1" or self._is_part(written))
        if single or match["join"] == "-" or self._noun_follows(end):
            return names.one
        return names.many

    @staticmethod
    def _is_part(written: str) -> bool:
        """A fraction below one, written as a fraction."""
        above, slash, below = written.partition("/")
        return bool(slash) and above.isdigit() and int(above) < int(below)

    def _is_inch(self, written: str, end: int) -> bool:
        """A unit after a number, or the preposition of "put 2 in the tray"."""
        if not written.isdigit():
            return True
        word = FOLLOWING.match(self.text, end)
        return word is None or word[1] in self.wording.inch_before

    def _minus(self, _: re.Match[str]) -> str | None:
        free = self.at == 0 or self.text[self.at - 1] in " (["
        return " ".join(self.wording.numbers.minus) if free else None

    def _ordinal(self, match: re.Match[str]) -> str:
        said = self.wording.ordinals.get(int(match["number"]))
        if said is None:
            raise NotSpeakable(match.group(), self.text)
        return said

    def _version(self, match: re.Match[str]) -> str:
        point = " ".join(self.wording.numbers.point[0])
        return f" {point} ".join(self._whole(part) for part in match.group().split("."))

    # Designations

    def _metric(self, match: re.Match[str]) -> str:
        said = ["M", self._number(match["size"])]
        last = match["size"]
        for number in re.findall(DECIMAL, match["more"]):
            said += [self.wording.between["×"], self._number(number)]
            last = number
        if match["fit"]:
            said += [f"{self._whole(n)} {letter.upper()}" for n, letter in _fits(match["fit"])]
        self.at = match.end()
        if match["more"] and (unit := self._unit(last, several=False)) is not None:
            said.append(unit)
        return " ".join(said)

    def _unified(self, match: re.Match[str]) -> str:
        size = match["size"]
        if size.startswith("#"):
            said = [self.wording.before["#"], self._whole(size[1:])]
        else:
            said = [self._number(size)]
        said.append(self._whole(match["pitch"]))
        if match["series"]:
            said.append(" ".join(match["series"]))
        if match["fit"]:
            said.append(f"{self._whole(match['fit'][0])} {match['fit'][1]}")
        return " ".join(said)

    def _oil(self, match: re.Match[str]) -> str:
        return f"{self._whole(match['cold'])} W {self._whole(match['hot'])}"

    def _stainless(self, match: re.Match[str]) -> str:
        steel = match["steel"]
        return f"{steel[0]} {self._whole(steel[1])} {self._whole(match['strength'])}"

    def _spelled(self, match: re.Match[str]) -> str | None:
        name = match.group()
        is_name = name == name.upper() or any(sign.isdigit() for sign in name)
        named = is_name and self._said_last(self.wording.spelled_after)
        return spell(name, self.wording.numbers) if named else None

    def _dashed(self, match: re.Match[str]) -> str | None:
        groups = match.group().split("-")
        units = self.wording.units
        if all(g.lstrip("0123456789") in units and g[0].isdigit() for g in groups):
            return None  # 12V-14V is a range
        return spell(match.group(), self.wording.numbers)

    def _figures(self, match: re.Match[str]) -> str | None:
        groups = match.group().split("-")
        if self._said_last(self.wording.dash_after):
            dash = self.wording.between["dash"]
            return f" {dash} ".join(self._whole(group) for group in groups)
        if self.wording.unit_pattern.match(self.text, match.end()) and len(groups) == 2:
            return None
        odd = any(len(g) > 3 or (len(g) > 1 and g.startswith("0")) for g in groups)
        return spell(match.group(), self.wording.numbers) if odd or len(groups) > 2 else None

    def _code(self, match: re.Match[str]) -> str | None:
        """T27, PH2, DOT4: the letters, then the number; longer ones are spelled."""
        letters = match["letters"]
        if len(letters) > 2 and letters not in self.wording.words:
            return None
        said = self.wording.words.get(letters, " ".join(letters))
        return f"{said} {self._whole(match['figures'])}"

    # Words

    def _named_unit(self, match: re.Match[str]) -> str | None:
        """A unit that only its place tells from a letter: "a reading in V", "one three, V."."""
        said = " ".join(self.out).split()
        if said and said[-1].casefold() in self.wording.unit_after:
            return self.wording.units[match["unit"]].many
        number = len(said) > 1 and said[-1] == "," and said[-2] in self.wording.numbers.vocabulary
        return self.wording.units[match["unit"]].many if number else None

    def _word(self, match: re.Match[str]) -> str:
        if re.compile(r"[0-9_]").match(self.text, match.end()):
            token = re.compile(r"\w+").match(self.text, self.at)
            raise NotSpeakable(token.group() if token else match.group(), self.text)
        said = [self._part(part) for part in match.group().replace("’", "'").split("-")]
        # A letter that stands for itself is not to run into the next word.
        return (" " if any(len(part) == 1 or " " in part for part in said) else "-").join(said)

    def _part(self, part: str) -> str:
        base, mark, tail = part.partition("'")
        if not base.isascii():
            return part
        if len(base) == 1:
            if base.islower() and base not in "ai" and not mark:
                raise NotSpeakable(base, self.text)
            return part
        if base in self.wording.plain_words:
            return part.lower()
        if base.isupper():
            return " ".join(base) + mark + tail
        if re.fullmatch(r"[A-Z]{2,}s", base):
            return " ".join(base[:-1]) + "'s"
        if re.search(r"[a-z][A-Z]", base) and not re.fullmatch(r"(?:[A-Z][a-z]+){2,}", base):
            raise NotSpeakable(base, self.text)
        if self.wording.vowels and not self.wording.vowels & set(base.lower()):
            raise NotSpeakable(base, self.text)
        return part

    def _pause(self, match: re.Match[str]) -> str:
        sign = match.group().strip()
        return sign if sign in PAUSES else "." if sign == "…" else ","


def _fits(written: str) -> list[tuple[str, str]]:
    return re.findall(r"([0-9])([gGhH])", written)
