"""What the models find wrong in a file, said for the person who wrote it, with the line."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Iterator
from typing import Any, Final, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from assistant.checklist.positions import (
    MAX_FINDINGS,
    ListNode,
    MapNode,
    Node,
    ScalarNode,
    follow,
    plain,
)
from assistant.checklist.scalars import shown
from assistant.errors import Finding

Location = tuple[str | int, ...]


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word that a person most likely meant, or None."""
    near = difflib.get_close_matches(word[:64], list(known)[:400], n=1, cutoff=0.6)
    return near[0] if near else None


def did_you_mean(word: str, known: Iterable[str]) -> str:
    """A half sentence that says what would be right: the nearest word, else all of them."""
    words = list(known)
    near = nearest(word, words)
    if near is not None:
        return f'did you mean "{shown(near)}"?'
    if not words:
        return "there are none here"
    return f"known here: {shown(', '.join(words), 300)}"


def shape_findings(model: type[BaseModel], root: MapNode, file: str) -> Iterator[Finding]:
    """What keeps a tree from being this model: unknown and missing keys, wrong types, bad values.

    Values about which a finding exists already are passed over.
    """
    try:
        model.model_validate(plain(root))
    except ValidationError as error:
        for detail in error.errors(include_url=False)[:MAX_FINDINGS]:
            finding = _finding(detail, model, root, file)
            if finding is not None:
                yield finding


def _finding(
    detail: ErrorDetails, model: type[BaseModel], root: MapNode, file: str
) -> Finding | None:
    location, kind = detail["loc"], detail["type"]
    node = follow(root, location)
    if isinstance(node, ScalarNode) and node.faulty:
        return None
    where = _where(root, location)
    if kind in {"extra_forbidden", "missing"}:
        return _key_finding(kind, location, model, root, file)
    if kind == "too_short" and isinstance(node, ListNode) and node.items:
        return None  # pydantic counts only the items that passed; theirs are the findings
    parts = [part for part in location if not str(part).startswith("<")]
    name = next((str(part) for part in reversed(parts) if isinstance(part, str)), "")
    if parts and isinstance(parts[-1], int):
        name = f"an entry of {name}"
    if location and location[-1] == "[key]":
        name = shown(str(location[-2]))
        said = f'the name "{name}" is not written in lower case, digits and _, like front_abs'
        return Finding("error", "bad-name", file, _key_line(root, location[:-1]), where + said)
    say = _MESSAGES.get(kind, _other)
    said = f"{where}{shown(name)} {say(detail, node)}"
    if kind == "model_type":
        said += _keys_needed(model, location)
    return Finding("error", _code(kind), file, node.line, said)


def _keys_needed(model: type[BaseModel], location: Location) -> str:
    """The keys that a value written in one line should have had under it."""
    fields = _model_at(model, location).model_fields
    needed = [name for name, field in fields.items() if field.is_required()]
    if needed:
        return f"; at least {' and '.join(f'{name}:' for name in needed)}"
    return f"; some of {', '.join(f'{name}:' for name in fields)}"


def _key_finding(
    kind: str, location: Location, model: type[BaseModel], root: MapNode, file: str
) -> Finding | None:
    key, parent = str(location[-1]), follow(root, location[:-1])
    where = _where(root, location)
    if kind == "missing":
        said = f'the key "{key}" is missing; it holds: {_purpose(model, location)}'
        return Finding("error", "missing-key", file, parent.line, where + said)
    line = parent.line
    if isinstance(parent, MapNode):
        name = next((name for name, _ in parent.entries if name.raw == key), None)
        if name is not None and name.faulty:
            return None
        line = name.line if name is not None else line
    known = _model_at(model, location[:-1]).model_fields
    said = f'there is no key "{shown(key)}" here; {did_you_mean(key, known)}'
    return Finding("error", "unknown-key", file, line, where + said)


def _key_line(root: MapNode, location: Location) -> int:
    parent = follow(root, location[:-1])
    return parent.line_of(str(location[-1])) if isinstance(parent, MapNode) else parent.line


def _where(root: MapNode, location: Location) -> str:
    """The step, section or option that a location lies in, for the beginning of a message."""
    where, node = "", root
    for index in range(len(location)):
        inner = follow(root, location[: index + 1])
        if inner is node or not isinstance(inner, MapNode):
            continue
        node = inner
        for key in ("step", "section"):
            name = node.get(key)
            if isinstance(name, ScalarNode):
                where = f'{key} "{shown(name.raw, 40)}": '
    return where


def _models_in(annotation: object) -> Iterator[type[BaseModel]]:
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for part in get_args(annotation):
        yield from _models_in(part)


def _model_at(model: type[BaseModel], location: Location) -> type[BaseModel]:
    """The model whose keys stand at a location; a part like <section> chooses among several."""
    candidates: list[type[BaseModel]] = [model]
    for part in location:
        if not isinstance(part, str):
            continue
        named = [one for one in candidates if f"<{one.__name__.lower()}>" == part]
        if named and len(candidates) > 1:
            candidates = named
        elif part in candidates[0].model_fields:
            field = candidates[0].model_fields[part]
            candidates = list(_models_in(field.annotation)) or candidates
    return candidates[0]


def _purpose(model: type[BaseModel], location: Location) -> str:
    field = _model_at(model, location[:-1]).model_fields.get(str(location[-1]))
    return (field.description if field and field.description else "every one needs it").rstrip(".")


def _written(node: Node) -> str:
    if isinstance(node, ScalarNode):
        return f'"{shown(node.raw)}"'
    return "a list" if isinstance(node, ListNode) else "keys with values"


def _context(detail: ErrorDetails, name: str) -> Any:  # noqa: ANN401 - pydantic's own type
    return detail.get("ctx", {}).get(name)


def _string_type(_: ErrorDetails, node: Node) -> str:
    if isinstance(node, ScalarNode):
        return f'must be text, and {shown(node.raw)} is not; put it in quotes: "{shown(node.raw)}"'
    return f"must be text, not {_written(node)}"


def _pattern(detail: ErrorDetails, node: Node) -> str:
    pattern = str(_context(detail, "pattern"))
    text = node.raw if isinstance(node, ScalarNode) else ""
    if not text.strip():
        return "is empty; write it, or leave the key out"
    if "yaml" in pattern and re.search(r"\.\.|^[/\\~]|\\|:", text):
        return f"{_written(node)} leads out of the folder of checklists; write shared/my-part.yaml"
    words = _WORDS.fullmatch(pattern)
    if words is not None:
        known = words[1].replace("\\", "").split("|")
        return f"{_written(node)} is not one of: {', '.join(known)}"
    for example, mark in _PATTERN_EXAMPLES:
        if mark in pattern:
            return f"{_written(node)} is not allowed; write it like {example}"
    return f"{_written(node)} begins or ends with a space, or holds a line end; remove it"


_WORDS: Final = re.compile(r"\^\(([a-z|]+(?:\|\\\{\w+\\\})*)\)\$")
"""A pattern that is nothing but a choice of words."""
_PATTERN_EXAMPLES: Final = (
    ("shared/battery-off.yaml", "yaml"),
    ("front-brake-bolts (small letters, digits, hyphens)", "[a-z0-9]*(-"),
    ("front_abs (small letters, digits, underscores)", "[a-z0-9]*(_"),
    ("1.0.0 (three numbers)", r"\d+\.\d+\.\d+"),
    ("en or en-US", "[a-z]{2,3}"),
    ("A12-0071 (capital letters, digits, hyphens)", "[A-Z0-9]"),
)


def _choice(detail: ErrorDetails, node: Node) -> str:
    known = re.findall(r"'([^']*)'", str(_context(detail, "expected")))
    near = nearest(node.raw, known) if isinstance(node, ScalarNode) else None
    hint = f'; did you mean "{near}"?' if near else ""
    return f"{_written(node)} is not one of: {', '.join(known)}{hint}"


def _value_error(detail: ErrorDetails, _: Node) -> str:
    return f"is wrong: {shown(str(_context(detail, 'error')), 400)}"


def _length(detail: ErrorDetails, node: Node) -> str:
    most = _context(detail, "max_length")
    written = len(node.raw) if isinstance(node, ScalarNode) else 0
    return f"is {written} characters long, at most {most}; split it, or say it shorter"


def _range(detail: ErrorDetails, node: Node) -> str:
    said = detail["msg"].removeprefix("Input should be ")
    return f"{_written(node)} is out of range: it must be {said}"


def _other(detail: ErrorDetails, node: Node) -> str:
    return f"{_written(node)} is wrong: {shown(detail['msg'], 200)}"


_Say = Callable[[ErrorDetails, Node], str]
_MESSAGES: Final[dict[str, _Say]] = {
    "string_type": _string_type,
    "string_pattern_mismatch": _pattern,
    "string_too_long": _length,
    "enum": _choice,
    "literal_error": _choice,
    "value_error": _value_error,
    "greater_than": _range,
    "greater_than_equal": _range,
    "less_than": _range,
    "less_than_equal": _range,
    "int_type": lambda _, node: f"must be a whole number, not {_written(node)}",
    "float_type": lambda _, node: f"must be a number, not {_written(node)}",
    "bool_type": lambda _, node: f"must be true or false, not {_written(node)}",
    "tuple_type": lambda _, node: f"must be a list, each line with a -, not {_written(node)}",
    "too_short": lambda _, __: "is an empty list; write at least one, or leave it out",
    "dict_type": lambda _, node: f"must be keys with values under it, not {_written(node)}",
    "model_type": lambda _, node: f"must be keys with values under it, not {_written(node)}",
}


def _code(kind: str) -> str:
    if kind in _MESSAGES and kind.endswith("_type"):
        return "wrong-type"
    return "bad-value"
