"""Everything `gloveson check` looks at: shape, sense, trade, wording, hazard tags, proof."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from assistant import packaged, shelf, sounding
from assistant.checklist import rules, trade_sense
from assistant.checklist.crosscheck import EACH
from assistant.checklist.expand import candidates
from assistant.checklist.explain import did_you_mean
from assistant.checklist.loader import Loaded
from assistant.errors import BadFile, BadInput, Finding
from assistant.job.table import ALARMS
from assistant.language.intent import Cost
from assistant.language.wording import NotSpeakable, for_ear
from assistant.people import SHOP_FILE, load_shop
from assistant.safety import detection, events
from assistant.safety.breaches import Broken
from assistant.safety.proof import MOST_STATES, prove_checklist
from assistant.shop_phrases import PHRASES_FILE, phrase_findings


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found in one file."""

    file: str
    findings: tuple[Finding, ...]
    steps: int = 0
    paths: int = 0
    states: int = 0

    @property
    def ok(self) -> bool:
        """Whether there is no error; warnings don't count."""
        return not any(finding.level == "error" for finding in self.findings)

    def as_json(self) -> dict[str, Any]:
        """One element of what `check --json` prints."""
        return {
            "file": self.file,
            "ok": self.ok,
            "findings": [
                {
                    "level": f.level,
                    "code": f.code,
                    "file": f.file,
                    "line": f.line,
                    "message": f.message,
                    "path": list(f.path),
                }
                for f in self.findings
            ],
            "steps": self.steps,
            "paths_proved": self.paths,
            "states_explored": self.states,
        }


def check_file(name: str) -> Checked:
    """Check one checklist, given by path or id; a file that can't be read is a finding too."""
    try:
        path = shelf.find_checklist(name)
        loaded = shelf.load_checklist(path)
    except BadFile as problem:
        return Checked(name, problem.findings)
    except BadInput as problem:
        return Checked(name, (Finding("error", "no-file", name, 0, str(problem)),))
    return check_loaded(loaded)


def check_loaded(loaded: Loaded) -> Checked:
    """Check a checklist whose shape is right."""
    language = loaded.checklist.language
    try:
        confirming = confirming_phrases(language)
        unspeakable = _unspeakable(language)
        hazard_words = packaged.hazard_words(language)
        trade_words = packaged.trade_words(language)
        event_words = packaged.event_words(language)
    except BadInput as problem:
        finding = Finding("error", "no-language", loaded.file, 0, str(problem))
        return Checked(loaded.file, (finding,))
    found = list(rules.findings(loaded, confirming, unspeakable))
    found.extend(trade_sense.findings(loaded, packaged.trade_tables(), trade_words))
    found.extend(detection.findings(loaded, hazard_words))
    found.extend(events.findings(loaded, event_words))
    found.extend(_unknown_troubles(loaded))
    found.extend(sounding.unit_findings(loaded))
    proof = prove_checklist(loaded, MOST_STATES)
    found.extend(_finding(loaded, broken) for broken in proof.broken)
    if not proof.complete:
        message = (
            f"not proved: more than {MOST_STATES} states; use fewer options that decide about the "
            "same steps"
        )
        found.append(Finding("error", "not-proved", loaded.file, 0, message))
    return Checked(
        loaded.file,
        tuple(found),
        steps=len(candidates(loaded)),
        paths=proof.paths,
        states=proof.states,
    )


def _unknown_troubles(loaded: Loaded) -> Iterator[Finding]:
    """Interlocks that wait for a kind of trouble nobody can report would never block."""
    kinds = packaged.phrasebook(loaded.checklist.language).slots.get("trouble", {})
    known = (*kinds, *ALARMS)
    line = loaded.node.line_of("interlocks")
    for interlock in loaded.checklist.interlocks:
        for kind in interlock.while_trouble:
            if kind not in known:
                message = (
                    f'interlock "{interlock.interlock}": there is no kind of trouble "{kind}"; '
                    f"{did_you_mean(kind, dict.fromkeys(known))}"
                )
                yield Finding("error", "unknown-trouble", loaded.file, line, message)


def confirming_phrases(language: str) -> tuple[str, ...]:
    """Phrases that confirm something: nothing that is read aloud may hold one (I4)."""
    book = packaged.phrasebook(language)
    return tuple(
        phrase
        for entry in book.intents.values()
        if entry.cost is Cost.CONFIRMATION
        for phrase in entry.phrases
    )


def _unspeakable(language: str) -> Callable[[str], str | None]:
    wording = packaged.wording(language)

    def problem(text: str) -> str | None:
        try:
            for_ear(text.replace(EACH, " "), wording)  # what fills it is said elsewhere
        except NotSpeakable as error:
            return str(error)
        return None

    return problem


def _finding(loaded: Loaded, broken: Broken) -> Finding:
    step = broken.step
    return Finding(
        "error",
        broken.code,
        step.file if step is not None else loaded.file,
        step.line if step is not None else 0,
        f"{step.id if step is not None else 'release'}: {broken.message}",
        broken.path,
    )


def check_all(names: list[str]) -> list[Checked]:
    """Check several files, in the order given."""
    return [check_file(name) for name in names]


def check_shop(home: Path) -> Checked | None:
    """Check the names in this folder's shop file; None when there is nothing to say."""
    file = str(home / SHOP_FILE)
    try:
        shop = load_shop(home)
    except BadFile as problem:
        return Checked(file, problem.findings)
    book = packaged.phrasebook("en")
    wrenches = [wrench.name for wrench in shop.wrenches]
    found = (
        *sounding.roster_findings(book, shop.roster, file),
        *sounding.wrench_findings(book, wrenches, file),
    )
    return Checked(file, found) if found else None


def check_phrases(home: Path) -> Checked | None:
    """Check the phrases that this folder's shop has added; None when there is nothing to say."""
    try:
        roster = load_shop(home).roster
    except BadFile:
        roster = {}  # `check_shop` tells of it
    found = tuple(phrase_findings(packaged.phrasebook("en"), home, roster))
    return Checked(str(home / PHRASES_FILE), found) if found else None
