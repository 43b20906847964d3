"""Every line that the program can say, found by reading its source."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass, field
from importlib.resources import files
from pathlib import Path

from assistant.checklist.model import Torque
from assistant.checklist.offlist import Refused
from assistant.job.events import EARLIER
from assistant.job.table import ALARMS
from assistant.safety.hazards import forbidden

FAMILIES: dict[str, tuple[str, ...]] = {
    "alarm.": ALARMS,
    "earlier.": EARLIER,
}
"""Beginnings of keys that are completed from a table at run time."""


@dataclass
class Found:
    """Lines of the source.

    Attributes:
        values: key -> one set of value names for each place that says it.
        unknown: places whose key could not be worked out.
    """

    values: dict[str, list[frozenset[str]]] = field(default_factory=dict)
    unknown: list[str] = field(default_factory=list)

    def add(self, key: str, names: frozenset[str]) -> None:
        """One place that says this key."""
        self.values.setdefault(key, []).append(names)


def _endings(prefix: str) -> tuple[str, ...]:
    if prefix == "forbidden.":
        return (*_returned_texts(forbidden.__module__), "stop-due", "asked-stop-untrue")
    if prefix == "step.condition.":
        told = Torque.model_json_schema()["properties"]["condition"]["enum"]
        return tuple(condition for condition in told if condition != "dry")
    if prefix == "off.refused.":
        annotation = str(Refused.__annotations__["reason"])
        literal = ast.parse(annotation, mode="eval").body
        return tuple(n.value for n in ast.walk(literal) if isinstance(n, ast.Constant))  # type: ignore[misc]  # all of them are texts
    return FAMILIES[prefix]


def _returned_texts(module: str) -> tuple[str, ...]:
    """Every text that the functions of hazards.py return as a reason."""
    tree = ast.parse(_path(module).read_text(encoding="utf-8"))
    wanted = {"forbidden", "_unchecked", "_battery_forbidden", "_event_forbidden"}
    return tuple(
        constant.value
        for function in ast.walk(tree)
        if isinstance(function, ast.FunctionDef) and function.name in wanted
        for returned in ast.walk(function)
        if isinstance(returned, ast.Return)
        for constant in ast.walk(returned)
        if isinstance(constant, ast.Constant) and isinstance(constant.value, str)
    )


def _path(module: str) -> Path:
    return Path(str(files("assistant"))) / Path(*module.split(".")[1:]).with_suffix(".py")


def _sources() -> Iterator[Path]:
    root = Path(str(files("assistant")))
    return iter(sorted(path for path in root.rglob("*.py") if "bundled" not in path.parts))


def lines_in_source() -> Found:
    """Keys and value names of all calls of `line(...)` in the package."""
    found = Found()
    for path in _sources():
        text = path.read_text(encoding="utf-8")
        if "effects import" not in text:
            continue
        tree = ast.parse(text)
        for function in ast.walk(tree):
            if isinstance(function, ast.FunctionDef):
                _in_function(function, tree, found, path)
    return found


def _in_function(function: ast.FunctionDef, module: ast.Module, found: Found, path: Path) -> None:
    own = {n for inner in _inner(function) for n in ast.walk(inner)}
    for call in ast.walk(function):
        named = isinstance(call, ast.Call) and isinstance(call.func, ast.Name)
        if not named or call in own:
            continue
        assert isinstance(call, ast.Call)
        assert isinstance(call.func, ast.Name)
        if call.func.id != "line" or not call.args:
            continue
        names = frozenset(k.arg for k in call.keywords if k.arg is not None)
        keys = list(_keys(call.args[0], function, module))
        if not keys:
            found.unknown.append(f"{path.name}:{call.lineno}")
        for key in keys:
            found.add(key, names)


def _inner(function: ast.FunctionDef) -> Iterator[ast.FunctionDef]:
    for node in ast.walk(function):
        if isinstance(node, ast.FunctionDef) and node is not function:
            yield node


def _keys(node: ast.expr, function: ast.FunctionDef, module: ast.Module) -> Iterator[str]:
    """The keys that an expression can be."""
    if isinstance(node, ast.Constant):
        yield str(node.value)
    elif isinstance(node, ast.IfExp):
        yield from _keys(node.body, function, module)
        yield from _keys(node.orelse, function, module)
    elif isinstance(node, ast.JoinedStr):
        yield from _joined(node, function, module)
    elif isinstance(node, ast.Name):
        yield from _argument(node.id, function, module)


def _joined(node: ast.JoinedStr, function: ast.FunctionDef, module: ast.Module) -> Iterator[str]:
    first, *rest = node.values
    if isinstance(first, ast.Constant) and len(rest) == 1:
        for ending in _endings(str(first.value)):
            yield str(first.value) + ending
    elif isinstance(first, ast.FormattedValue) and len(rest) == 1:
        assert isinstance(rest[0], ast.Constant)
        for key in _keys(first.value, function, module):
            yield key + str(rest[0].value)


def _argument(name: str, function: ast.FunctionDef, module: ast.Module) -> Iterator[str]:
    """What callers in this module hand in for a parameter, or what the name is made from."""
    parameters = [a.arg for a in function.args.args]
    if name not in parameters:
        for made in ast.walk(function):
            if isinstance(made, ast.Assign) and ast.unparse(made.targets[0]) == name:
                yield from (key for key in _texts(made.value, module) if "." in key)
        return
    place = parameters.index(name)
    for call in ast.walk(module):
        by_name = isinstance(call, ast.Call) and isinstance(call.func, ast.Name)
        if by_name and call.func.id == function.name and len(call.args) > place:  # type: ignore[attr-defined]
            yield from _texts(call.args[place], module)  # type: ignore[attr-defined]


def _texts(node: ast.expr, module: ast.Module) -> Iterator[str]:
    """Literal texts of an argument; for a plain name, every key-like text that is returned."""
    for constant in ast.walk(node):
        if isinstance(constant, ast.Constant) and isinstance(constant.value, str):
            yield constant.value
    for name in ast.walk(node):
        if isinstance(name, ast.Name):
            for returned in ast.walk(module):
                if isinstance(returned, ast.Return):
                    for text in ast.walk(returned):
                        if isinstance(text, ast.Constant) and "." in str(text.value):
                            yield str(text.value)
