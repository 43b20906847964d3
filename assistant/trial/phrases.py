"""What may be said in a trial: a phrasebook in the states of a job, or a plain list of phrases.

With a phrasebook a clip is heard as a job would hear it: against what the transition table admits
in a state where the clip's words mean something: an open step, where it is one, at its fullest: one
that asks for a reading, in the clip's unit or else a torque. Unrelated speech and noise are heard
against an open step with all units, its yes and no, and the read-backs of all safety stops at once:
more than any state admits. With a plain list everything is admitted always, at the cost of an
ordinary command (`control`).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Final

import yaml

from assistant import packaged
from assistant.errors import BadFile, BadInput, Finding
from assistant.job.admit import in_fractions, units_heard
from assistant.job.state import Mode
from assistant.job.table import TABLE
from assistant.language.book import IntentEntry, Phrasebook, parts
from assistant.language.expression import normalize
from assistant.language.grammar import Grammar, build_grammar
from assistant.language.intent import Cost, Intent
from assistant.language.phrasebook import load_phrasebook
from assistant.shelf import read_text
from assistant.trade.quantity import unit_named
from assistant.trial.manifest import Row

ROSTER: Final = {"mara": ("mara",), "ines": ("ines",), "tobin": ("tobin",)}
"""Made-up people, for what names somebody."""

_READ_BACK: Final = "read_back"
_TORQUE: Final = "N·m"
_UNRELATED_MODES: Final = (Mode.STEP, Mode.READING_CHECK)


class Phrases:
    """The grammar for each clip, every grammar made once.

    Args:
        book: what can be said.
        states: intents admitted together, the likeliest state first.
        read_backs: words of the safety stops by their key; a state admits one of them.
        name: for messages.
    """

    def __init__(
        self,
        book: Phrasebook,
        states: Iterable[frozenset[str]],
        read_backs: Mapping[str, tuple[str, ...]],
        name: str,
    ) -> None:
        self.name = name
        self._book = book
        self._states = tuple(states)
        self._read_backs = read_backs
        self._made: dict[tuple[frozenset[str], str, str], Grammar] = {}
        self._found: dict[str, tuple[Grammar, Intent]] = {}

    def meant(self, row: Row) -> tuple[Grammar, Intent]:
        """What is admitted when a command or reading is said, and what it means there.

        Raises:
            BadInput: its words are none of the phrases; says where the row stands.
        """
        words = " ".join(normalize(row.transcript))
        if words not in self._found:
            for grammar in self._grammars():
                intent = grammar.match(words)
                if intent is not None:
                    self._found[words] = self._narrowed(grammar, intent)
                    break
            else:
                msg = f'{row.where}: "{row.transcript}" is not among the phrases of {self.name}'
                raise BadInput(msg)
        return self._found[words]

    def _narrowed(self, grammar: Grammar, intent: Intent) -> tuple[Grammar, Intent]:
        """The grammar of a state that waits for just this, where there is one."""
        return grammar, intent

    def unrelated(self) -> Grammar:
        """What is admitted when something is said that nobody meant for the assistant."""
        return self._grammar(self._states[0], "*")

    def check(self, rows: Iterable[Row]) -> None:
        """Find every wrong label before the first sound is heard.

        Raises:
            BadInput: a command that is no phrase, or unrelated speech that is exactly one.
        """
        problems = []
        for row in rows:
            try:
                if row.spoken:
                    self.meant(row)
                elif row.transcript and self.unrelated().match(row.transcript) is not None:
                    what = f'"{row.transcript}" is a phrase of {self.name}, so it is a command'
                    problems.append(f"{row.where}: kind {row.kind}, but {what}")
            except BadInput as problem:
                problems.append(str(problem))
        if problems:
            raise BadInput("\n".join(problems))

    def _grammars(self) -> Iterator[Grammar]:
        for state in self._states:
            keys = self._read_backs if _READ_BACK in state else ("",)
            for key in keys:
                yield self._grammar(state, key)

    def _grammar(self, state: frozenset[str], read_back: str, unit: str = "") -> Grammar:
        """A state's grammar with one read-back, or all of them ("*"), and what one unit admits."""
        made = self._made.get((state, read_back, unit))
        if made is None:
            names = set(state)
            fillers: dict[str, Mapping[str, tuple[str, ...]]] = {"name": ROSTER}
            if read_back == "*" and self._read_backs:
                names.add(_READ_BACK)
                fillers["read_back"] = self._read_backs
            elif read_back in self._read_backs:
                fillers["read_back"] = {read_back: self._read_backs[read_back]}
            if unit:
                fillers["unit"] = units_heard({unit}, self._book.slots["unit"])
            fractions = not unit or in_fractions({unit})
            made = build_grammar(self._book, names, fillers, fractions=fractions)
            self._made[state, read_back, unit] = made
        return made


def read_phrases(path: Path | None, language: str) -> Phrases:
    """The phrases of a file: a phrasebook (.yaml) or one phrase a line; the packaged ones if None.

    Raises:
        BadInput: the file has errors, or the language is not known.
    """
    if path is None:
        return of_book(packaged.phrasebook(language), "the phrasebook")
    text = read_text(path)
    if path.suffix.lower() in {".yaml", ".yml"}:
        return of_book(_own_book(text, path, language), str(path))
    return of_list(text, str(path), language)


def of_book(book: Phrasebook, name: str) -> Phrases:
    """A phrasebook in the states of a job; in one state where it isn't the job's."""
    by_mode: dict[Mode, set[str]] = {}
    for mode, intent in TABLE:
        by_mode.setdefault(mode, set()).add(intent)
    known = book.sayable({"name", "read_back"})
    step = frozenset(by_mode[Mode.STEP]) & known
    whole = frozenset(name for name in known if name != _READ_BACK)
    if not step:
        return Phrases(book, (whole,), {}, name)
    others = {frozenset(names) & known for mode, names in by_mode.items() if mode is not Mode.STEP}
    others.discard(frozenset())
    unrelated = frozenset().union(*(by_mode[mode] for mode in _UNRELATED_MODES)) & known
    own = known - frozenset().union(*by_mode.values())  # a shop's, which no state of the table has
    first = (step | own, *sorted(others, key=lambda names: (-len(names), sorted(names))))
    return _Job(book, first, _read_backs(book), name, unrelated | own)


class _Job(Phrases):
    """The states of a job; unrelated sound meets a fuller one than any of them."""

    def __init__(
        self,
        book: Phrasebook,
        states: Iterable[frozenset[str]],
        read_backs: Mapping[str, tuple[str, ...]],
        name: str,
        unrelated: frozenset[str],
    ) -> None:
        super().__init__(book, states, read_backs, name)
        self._unrelated = unrelated
        self._torque = _TORQUE if _TORQUE in book.slots.get("unit", {}) else ""

    def _narrowed(self, grammar: Grammar, intent: Intent) -> tuple[Grammar, Intent]:
        """The open step that asks for a reading in this unit, or a torque."""
        units = self._book.slots.get("unit", {})
        if self._states[0] != frozenset(grammar.admitted) or not all(map(_is_unit, units)):
            return grammar, intent
        step = self._grammar(self._states[0], "", intent.get("unit") or self._torque)
        same = step.match(intent.phrase)
        return (grammar, intent) if same is None else (step, same)

    def unrelated(self) -> Grammar:
        """An open step with yes and no and every read-back."""
        return self._grammar(self._unrelated, "*")


def _is_unit(symbol: str) -> bool:
    """Whether the trade knows a unit; a book of one's own may have others."""
    try:
        unit_named(symbol)
    except ValueError:
        return False
    return True


def _read_backs(book: Phrasebook) -> Mapping[str, tuple[str, ...]]:
    if _READ_BACK not in book.intents:
        return {}
    filled = packaged.stop_texts(book.language).read_backs()
    return {key: tuple(ways) for key, ways in filled.items()}


def _own_book(text: str, path: Path, language: str) -> Phrasebook:
    try:
        head = yaml.safe_load(text)
    except yaml.YAMLError:
        head = None  # load_phrasebook says where and what
    own = head.get("language") if isinstance(head, dict) else None
    try:
        numbers = packaged.numbers_of(str(own or language))
    except BadInput:
        numbers = None  # a language without number words: a book without numbers can do
    return load_phrasebook(text, str(path), numbers)


def of_list(text: str, name: str, language: str) -> Phrases:
    """Phrases one a line; empty lines and those that begin with # don't count.

    Raises:
        BadFile: a line is no phrase, or there are none.
    """
    findings, entries = [], {}
    for number, line in enumerate(text.splitlines(), start=1):
        said = line.strip()
        if not said or said.startswith("#"):
            continue
        try:
            words = [part for part in parts(said) if isinstance(part, str)]
            if len(words) != len(parts(said)):
                findings.append(Finding("error", "phrase", name, number, "a list has no <slots>"))
            key = " ".join(words)
        except ValueError as problem:
            findings.append(Finding("error", "phrase", name, number, str(problem)))
            continue
        entries[key] = IntentEntry(Cost.CONTROL, (key,), key)
    if not findings and not entries:
        findings.append(Finding("error", "empty", name, 0, "holds no phrase; one a line is wanted"))
    if findings:
        raise BadFile(tuple(findings))
    book = Phrasebook(language, entries, {}, frozenset(), _pronunciations(language), None, (name,))
    return Phrases(book, (frozenset(entries),), {}, name)


def _pronunciations(language: str) -> Mapping[str, tuple[str, ...]]:
    try:
        return packaged.phrasebook(language).pronunciations
    except BadInput:
        return {}
