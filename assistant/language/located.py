"""YAML that a person wrote, read without trust, with the line of everything kept.

Refused: anchors and aliases (they can blow up a small file), tags (they can name Python
objects), the same key twice, more than one document, very deep nesting and very long texts.
Plain words such as yes, no, on and off stay words; only true and false are truth values.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TypeVar

import yaml
from pydantic import BaseModel, ValidationError

from assistant.errors import BadFile, Finding

MAX_CHARACTERS = 1_000_000
MAX_DEPTH = 20

Path = tuple[str | int, ...]
Plain = str | int | float | bool | None | list["Plain"] | dict[str | int, "Plain"]
Model = TypeVar("Model", bound=BaseModel)

_INT = re.compile(r"-?(0|[1-9][0-9]*)")
_FLOAT = re.compile(r"-?(0|[1-9][0-9]*)\.[0-9]+")
_CONSTANTS: dict[str, bool | None] = {"true": True, "false": False, "null": None, "~": None}
_HINTS = {
    "missing": "this key is missing",
    "extra_forbidden": "this key is not known here",
    "string_type": "this must be text; put quotes around it",
}


@dataclass(frozen=True, slots=True)
class Located:
    """A parsed file and the 1-based line on which each value (or key) begins."""

    file: str
    value: Plain
    lines: dict[Path, int]

    def line(self, path: Path) -> int:
        """The line of this path or of the nearest thing around it."""
        for end in range(len(path), -1, -1):
            if path[:end] in self.lines:
                return self.lines[path[:end]]
        return 1

    def finding(self, code: str, message: str, path: Path = ()) -> Finding:
        """An error at the line of this path."""
        return Finding("error", code, self.file, self.line(path), message)


@dataclass(slots=True)
class _Builder:
    """Builds plain values out of YAML events."""

    file: str
    lines: dict[Path, int] = field(default_factory=dict)
    stack: list[tuple[dict[str | int, Plain] | list[Plain], Path]] = field(default_factory=list)
    keys: list[str | int | None] = field(default_factory=list)
    top: Plain = None
    documents: int = 0

    def fail(self, code: str, event: yaml.Event, message: str) -> BadFile:
        return BadFile((Finding("error", code, self.file, _line(event), message),))

    def take(self, event: yaml.Event) -> None:
        if isinstance(event, yaml.AliasEvent):
            raise self.fail("alias", event, "aliases (*name) are not read; write the value out")
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                raise self.fail("documents", event, "one file holds one document; remove this ---")
        elif isinstance(event, yaml.NodeEvent):
            self._node(event)
        elif isinstance(event, yaml.CollectionEndEvent):
            self.stack.pop()
            self.keys.pop()

    def _node(self, event: yaml.NodeEvent) -> None:
        if event.anchor is not None:
            raise self.fail("anchor", event, "anchors (&name) are not read; remove it")
        tag: str | None = getattr(event, "tag", None)
        if tag not in (None, "!"):
            raise self.fail("tag", event, f'tags are not read; remove "{tag}"')
        value: Plain
        if isinstance(event, yaml.ScalarEvent):
            value = _scalar(event)
        else:
            value = {} if isinstance(event, yaml.MappingStartEvent) else []
        path = self._put(value, event)
        if isinstance(value, dict | list):
            if len(self.stack) >= MAX_DEPTH:
                raise self.fail("depth", event, f"nested more than {MAX_DEPTH} deep; flatten it")
            self.stack.append((value, path))
            self.keys.append(None)

    def _put(self, value: Plain, event: yaml.NodeEvent) -> Path:
        line = _line(event)
        if not self.stack:
            self.top = value
            self.lines[()] = line
            return ()
        owner, base = self.stack[-1]
        if isinstance(owner, list):
            path: Path = (*base, len(owner))
            owner.append(value)
            self.lines[path] = line
            return path
        key = self.keys[-1]
        if key is None:
            if isinstance(value, bool) or not isinstance(value, str | int):
                raise self.fail("key", event, "a key must be a word or a whole number")
            if value in owner:
                raise self.fail("twice", event, f'"{value}" stands here twice; keep one')
            self.keys[-1] = value
            self.lines[(*base, value)] = line
            return base
        owner[key] = value
        self.keys[-1] = None
        return (*base, key)


def _line(event: yaml.Event) -> int:
    return event.start_mark.line + 1 if event.start_mark is not None else 1


def _scalar(event: yaml.ScalarEvent) -> Plain:
    text: str = event.value
    if event.style is not None:
        return text
    if text in _CONSTANTS or text == "":
        return _CONSTANTS.get(text)
    if _INT.fullmatch(text) and len(text) < 16:
        return int(text)
    if _FLOAT.fullmatch(text):
        return float(text)
    return text


def read_yaml(text: str, file: str) -> Located:
    """Parse one YAML document.

    Args:
        text: the file's content.
        file: its name, for messages.

    Raises:
        BadFile: not YAML, or YAML of a kind that is refused; one finding with its line.
    """
    if len(text) > MAX_CHARACTERS:
        message = f"the file is longer than {MAX_CHARACTERS} characters; split it"
        raise BadFile((Finding("error", "too-long", file, 0, message),))
    builder = _Builder(file)
    try:
        for event in yaml.parse(text, Loader=yaml.SafeLoader):
            builder.take(event)
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = mark.line + 1 if mark is not None else 1
        problem = getattr(error, "problem", None) or getattr(error, "reason", None) or str(error)
        message = f"this is not YAML: {problem}"
        raise BadFile((Finding("error", "yaml", file, line, message),)) from error
    return Located(file, builder.top, builder.lines)


def validate(model: type[Model], located: Located) -> Model:
    """The file's content as this strict model.

    Raises:
        BadFile: every place that doesn't fit, in line order.
    """
    try:
        return model.model_validate(located.value)
    except ValidationError as error:
        found = []
        for one in error.errors(include_url=False):
            path = tuple(part for part in one["loc"] if part != "[key]")
            where = ".".join(str(part) for part in path) or "the file"
            said = _HINTS.get(one["type"], one["msg"].removeprefix("Value error, "))
            found.append(located.finding(one["type"].replace("_", "-"), f"{where}: {said}", path))
        raise BadFile(tuple(sorted(found, key=lambda f: f.line))) from error
