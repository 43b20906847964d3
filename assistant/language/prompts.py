"""The assistant's own lines, by key, with places for values."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from string import Formatter
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from assistant.errors import BadFile, Finding, GlovesOnError
from assistant.language.located import Located, read_yaml, validate

_PLACE = re.compile(r"[a-z][a-z0-9_]*")
_Key = Annotated[str, Field(pattern=r"^[a-z][a-z0-9_-]*(\.[a-z][a-z0-9_-]*)*$", max_length=80)]
_Line = Annotated[str, Field(min_length=1, max_length=500)]


class NoSuchPrompt(GlovesOnError, KeyError):  # noqa: N818 - reads as what it is
    """A key that the prompts lack, or a place that got no value; the message says which."""

    def __str__(self) -> str:
        return str(self.args[0])


class _PromptsFile(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    language: Annotated[str, Field(pattern=r"^[a-z]{2,3}$")]
    prompts: Annotated[dict[_Key, _Line], Field(min_length=1)]


@dataclass(frozen=True, slots=True)
class Prompts:
    """The lines of one language.

    Attributes:
        lines: key: text with {places}.
    """

    language: str
    lines: Mapping[str, str]
    file: str

    def say(self, key: str, **values: object) -> str:
        """The line for the screen, its places filled; `for_ear` makes it fit for the voice.

        A value that the line has no place for is left out: another language may not need it.

        Raises:
            NoSuchPrompt: an unknown key, or a place without a value.
        """
        if key not in self.lines:
            raise NoSuchPrompt(f'{self.file} has no prompt "{key}"')
        if lacking := sorted(self.placeholders(key) - values.keys()):
            raise NoSuchPrompt(f'the prompt "{key}" needs a value for {", ".join(lacking)}')
        return self.lines[key].format(**{name: str(value) for name, value in values.items()})

    def keys(self) -> frozenset[str]:
        """Every key."""
        return frozenset(self.lines)

    def placeholders(self, key: str) -> frozenset[str]:
        """Names of the values that this line needs.

        Raises:
            NoSuchPrompt: an unknown key.
        """
        if key not in self.lines:
            raise NoSuchPrompt(f'{self.file} has no prompt "{key}"')
        return frozenset(name for _, name, _, _ in Formatter().parse(self.lines[key]) if name)


def load_prompts(
    text: str, file: str, required: Mapping[str, Iterable[str]] | None = None
) -> Prompts:
    """Read a prompts.yaml.

    Args:
        text: its content.
        file: its name, for messages.
        required: keys that must be there, each with the values that will be given for it: a
            line may use these and no others.

    Raises:
        BadFile: everything that is wrong with it, with lines.
    """
    located = read_yaml(text, file)
    raw = validate(_PromptsFile, located)
    findings = []
    for key, line in raw.prompts.items():
        if problem := _problem(line):
            findings.append(located.finding("place", f"{key}: {problem}", ("prompts", key)))
    if not findings:
        prompts = Prompts(raw.language, dict(raw.prompts), file)
        findings = _unmet(prompts, required or {}, located)
    if findings:
        raise BadFile(tuple(sorted(findings, key=lambda f: f.line)))
    return prompts


def _problem(line: str) -> str:
    """What is wrong with the places of a line; "" when nothing is."""
    try:
        places = list(Formatter().parse(line))
    except ValueError as error:
        return f"braces do not pair up ({error}); write {{name}} for a value"
    for _, name, form, turned in places:
        if name is not None and (not _PLACE.fullmatch(name) or form or turned):
            return f'"{{{name}}}" must be a plain name in braces, like {{name}}'
    return ""


def _unmet(
    prompts: Prompts, required: Mapping[str, Iterable[str]], located: Located
) -> list[Finding]:
    found = []
    for key, given in required.items():
        if key not in prompts.lines:
            message = f'the prompt "{key}" is missing'
            found.append(located.finding("missing-prompt", message, ("prompts",)))
            continue
        if odd := sorted(prompts.placeholders(key) - set(given)):
            names = ", ".join(sorted(given)) or "none"
            message = f"{key}: no value is ever given for {', '.join(odd)}; these are: {names}"
            found.append(located.finding("place", message, ("prompts", key)))
    return found
