"""Everything `gloveson check` looks at: shape, sense, wording, hazard tags and the proof."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final

from assistant import packaged, shelf
from assistant.checklist import rules
from assistant.checklist.crosscheck import EACH
from assistant.checklist.expand import expand, option_sets, options_text
from assistant.checklist.loader import Loaded
from assistant.errors import BadFile, BadInput, Finding
from assistant.language.intent import Cost
from assistant.language.wording import NotSpeakable, for_ear
from assistant.safety import detection
from assistant.safety.proof import Broken, Proof, prove

MOST_SETS: Final = 4096
"""Choices of options walked one by one; more of them are an error, never a pass."""


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
    except BadInput as problem:
        finding = Finding("error", "no-language", loaded.file, 0, str(problem))
        return Checked(loaded.file, (finding,))
    found = list(rules.findings(loaded, confirming, unspeakable))
    found.extend(detection.findings(loaded, hazard_words))
    proofs: list[tuple[str, int, Proof]] = []
    try:
        proofs = _prove_all(loaded)
    except BadInput as problem:
        found.append(Finding("error", "not-proved", loaded.file, 0, str(problem)))
    found.extend(_findings(loaded, proofs))
    return Checked(
        loaded.file,
        tuple(found),
        steps=max((steps for _, steps, _ in proofs), default=0),
        paths=sum(proof.paths for _, _, proof in proofs),
        states=sum(proof.states for _, _, proof in proofs),
    )


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


def _prove_all(loaded: Loaded) -> list[tuple[str, int, Proof]]:
    """Each choice of options with its number of steps and its proof."""
    proofs = []
    for chosen in option_sets(loaded, MOST_SETS):
        try:
            plan = expand(loaded, chosen)
        except BadInput:  # no step applies: the rules say so
            continue
        proofs.append((options_text(plan.options), len(plan.steps), prove(plan)))
    return proofs


def _findings(loaded: Loaded, proofs: list[tuple[str, int, Proof]]) -> list[Finding]:
    """Each broken invariant once, with the first choice of options that shows it."""
    seen: dict[tuple[str, str], Finding] = {}
    for options, _, proof in proofs:
        for broken in proof.broken:
            key = (broken.code, broken.step.id if broken.step is not None else "")
            seen.setdefault(key, _finding(loaded, options, broken))
    return list(seen.values())


def _finding(loaded: Loaded, options: str, broken: Broken) -> Finding:
    step = broken.step
    return Finding(
        "error",
        broken.code,
        step.file if step is not None else loaded.file,
        step.line if step is not None else 0,
        f"{step.id if step is not None else 'release'}: {broken.message}",
        (f"options {options}", *broken.path),
    )


def check_all(names: list[str]) -> list[Checked]:
    """Check several files, in the order given."""
    return [check_file(name) for name in names]
