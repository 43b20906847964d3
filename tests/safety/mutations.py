"""Kinds of mutation: one thing changed in a shipped checklist, as an author's slip would."""

from __future__ import annotations

import copy
import itertools
import json
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final

import yaml

from assistant import shelf

SHIPPED: Final = tuple(sorted(file.stem for file in shelf.checklists_folder().glob("*.yaml")))
Tree = dict[str, Any]
TAGS: Final = {
    "battery": ("disconnect", "needs-isolated", "reconnect", "prove"),
    "fuel": ("open", "work", "close", "prove"),
    "brake": ("open", "work", "close", "prove"),
    "event": ("ignition-on", "engine-start", "machine-moved"),
}


@dataclass(frozen=True, slots=True)
class Mutant:
    """A checklist with one thing changed.

    Attributes:
        files: texts by path, JSON, which is YAML too.
    """

    kind: str
    what: str
    main: str
    files: dict[str, str]


class _Copy:
    """The files of a checklist as trees, free to be changed."""

    def __init__(self, trees: dict[str, Tree], main: str) -> None:
        self.trees, self.main = trees, main

    def lists(self) -> list[list[Tree]]:
        """The lists of steps, in order."""
        folder = self.main.rpartition("/")[0]
        root: Tree = self.trees[self.main]
        return [
            self.trees[f"{folder}/{s['include']}"]["steps"] if "include" in s else s["steps"]
            for s in root["sections"]
        ]

    def at(self, where: tuple[int, int]) -> Tree:
        """One step."""
        return self.lists()[where[0]][where[1]]


Change = tuple[str, Callable[[_Copy], None]]


def _trees(name: str) -> tuple[dict[str, Tree], str]:
    loaded = shelf.load_checklist(shelf.find_checklist(name))
    trees = {s.file: _keyed(yaml.load(s.text, yaml.CSafeLoader)) for s in loaded.sources}
    return trees, loaded.file


def _keyed(node: Any) -> Any:  # noqa: ANN401 - whatever YAML holds
    """YAML 1.1 reads the key `off` as false; the checklists' own reader does not."""
    if isinstance(node, dict):
        return {("off" if key is False else key): _keyed(value) for key, value in node.items()}
    return [_keyed(item) for item in node] if isinstance(node, list) else node


def mutants(name: str) -> Iterator[Mutant]:
    """Every mutant of a shipped checklist, in the same order each time."""
    trees, main = _trees(name)
    whole = _Copy(trees, main)
    for kind, changes in KINDS.items():
        for what, change in changes(whole):
            changed = _Copy(copy.deepcopy(trees), main)
            change(changed)
            files = {f: json.dumps(t, ensure_ascii=False) for f, t in changed.trees.items()}
            yield Mutant(kind, f"{name}: {what}", main, files)


def _steps(whole: _Copy) -> Iterator[tuple[tuple[int, int], Tree]]:
    for section, steps in enumerate(whole.lists()):
        for place, step in enumerate(steps):
            yield (section, place), step


def _drop(whole: _Copy) -> Iterator[Change]:
    for where, step in _steps(whole):
        name = step["step"]

        def change(c: _Copy, where: tuple[int, int] = where, name: str = name) -> None:
            if len(c.lists()[where[0]]) > 1:
                del c.lists()[where[0]][where[1]]
            else:
                del c.trees[c.main]["sections"][where[0]]
            for _, other in _steps(c):
                other["reopens"] = [r for r in other.get("reopens", []) if r != name]

        yield f"without {name}", change


def _swap(whole: _Copy) -> Iterator[Change]:
    places = [where for where, _ in _steps(whole)]
    for one, two in itertools.pairwise(places):

        def change(c: _Copy, one: tuple[int, int] = one, two: tuple[int, int] = two) -> None:
            lists = c.lists()
            first, second = lists[one[0]][one[1]], lists[two[0]][two[1]]
            lists[one[0]][one[1]], lists[two[0]][two[1]] = second, first

        yield f"{whole.at(one)['step']} after {whole.at(two)['step']}", change


def _swap_sections(whole: _Copy) -> Iterator[Change]:
    for place in range(len(whole.lists()) - 1):

        def change(c: _Copy, place: int = place) -> None:
            sections = c.trees[c.main]["sections"]
            sections[place], sections[place + 1] = sections[place + 1], sections[place]

        yield f"section {place} after the next", change


def _duplicate(whole: _Copy) -> Iterator[Change]:
    for where, step in _steps(whole):
        for at_end in (False, True):

            def change(c: _Copy, where: tuple[int, int] = where, at_end: bool = at_end) -> None:
                twin = {**copy.deepcopy(c.at(where)), "step": "twin"}
                steps = c.lists()[-1] if at_end else c.lists()[where[0]]
                steps.insert(len(steps) if at_end else where[1] + 1, twin)

            yield f"{step['step']} again{' at the end' if at_end else ''}", change


def _tagged(whole: _Copy) -> Iterator[tuple[tuple[int, int], str, str, str]]:
    for where, step in _steps(whole):
        for hazard, tag in step.get("hazards", {}).items():
            yield where, step["step"], hazard, tag


def _untag(whole: _Copy) -> Iterator[Change]:
    for where, name, hazard, tag in _tagged(whole):

        def change(c: _Copy, where: tuple[int, int] = where, hazard: str = hazard) -> None:
            del c.at(where)["hazards"][hazard]

        yield f"{name} without {hazard}: {tag}", change


def _untag_with_reason(whole: _Copy) -> Iterator[Change]:
    for where, name, hazard, tag in _tagged(whole):

        def change(c: _Copy, where: tuple[int, int] = where, hazard: str = hazard) -> None:
            del c.at(where)["hazards"][hazard]
            c.at(where)["hazard_reason"] = "The author thinks that this is no such work."

        yield f"{name} without {hazard}: {tag}", change


def _retag(whole: _Copy) -> Iterator[Change]:
    for where, name, hazard, tag in _tagged(whole):
        for other in TAGS[hazard]:
            if other == tag:
                continue

            def change(
                c: _Copy, where: tuple[int, int] = where, hazard: str = hazard, other: str = other
            ) -> None:
                c.at(where)["hazards"][hazard] = other

            yield f"{name} {hazard}: {other}", change


def _other_hazard(whole: _Copy) -> Iterator[Change]:
    for where, name, hazard, tag in _tagged(whole):
        for other in TAGS:
            if "event" in (other, hazard) or other == hazard or other in whole.at(where)["hazards"]:
                continue
            moved = TAGS[other][TAGS[hazard].index(tag)]

            def change(
                c: _Copy,
                where: tuple[int, int] = where,
                to: tuple[str, str, str] = (hazard, other, moved),
            ) -> None:
                tags = c.at(where)["hazards"]
                del tags[to[0]]
                tags[to[1]] = to[2]

            yield f"{name} {other}: {moved}", change


def _tag_more(whole: _Copy) -> Iterator[Change]:
    for place, (where, step) in enumerate(_steps(whole)):
        hazard = tuple(TAGS)[place % 4]
        if step.get("hazards"):
            continue
        tag = TAGS[hazard][place // 4 % len(TAGS[hazard])]

        def change(
            c: _Copy, where: tuple[int, int] = where, hazard: str = hazard, tag: str = tag
        ) -> None:
            c.at(where)["hazards"] = {hazard: tag}

        yield f"{step['step']} {hazard}: {tag}", change


def _entries(whole: _Copy, key: str) -> Iterator[tuple[tuple[int, int], int, str, str]]:
    for where, step in _steps(whole):
        for index, entry in enumerate(step.get(key, [])):
            yield where, index, step["step"], entry["item"]


def _drop_entry(key: str) -> Callable[[_Copy], Iterator[Change]]:
    def changes(whole: _Copy) -> Iterator[Change]:
        for where, index, name, item in _entries(whole, key):

            def change(c: _Copy, where: tuple[int, int] = where, index: int = index) -> None:
                del c.at(where)[key][index]

            yield f"{name} without {key} {item}", change

    return changes


def _edit_entry(key: str, edit: Callable[[Tree], object]) -> Callable[[_Copy], Iterator[Change]]:
    def changes(whole: _Copy) -> Iterator[Change]:
        for where, index, name, item in _entries(whole, key):

            def change(c: _Copy, where: tuple[int, int] = where, index: int = index) -> None:
                edit(c.at(where)[key][index])

            yield f"{name}: {key} {item}", change

    return changes


def _optional(whole: _Copy) -> Iterator[Change]:
    for where, step in _steps(whole):

        def change(c: _Copy, where: tuple[int, int] = where) -> None:
            c.at(where)["optional"] = not c.at(where).get("optional", False)

        yield f"{step['step']} optional or no more", change


def _when(whole: _Copy) -> Iterator[Change]:
    options = [n for n, o in whole.trees[whole.main].get("options", {}).items()]
    for place, (where, step) in enumerate(_steps(whole)):
        if not options:
            return
        old = step.get("when", {})
        name = next(iter(old), options[place % len(options)])
        for value in (True, False, None):
            if value == old.get(name):
                continue

            def change(
                c: _Copy,
                where: tuple[int, int] = where,
                to: tuple[str, bool | None] = (name, value),
            ) -> None:
                c.at(where)["when"] = {} if to[1] is None else {to[0]: to[1]}

            yield f"{step['step']} when {name}={value}", change


def _interlocks(whole: _Copy) -> Iterator[Change]:
    """Each step blocked while something is off, or until some step is done."""
    items = [item for _, _, _, item in _entries(whole, "off")]
    names = [step["step"] for _, step in _steps(whole) if not step.get("optional")]
    for place, (_, step) in enumerate(_steps(whole)):
        if place % 2 or not items:
            rule = {"while_not_done": [names[(place * 5) % len(names)]]}
        else:
            rule = {"while_off": [items[(place * 3) % len(items)]]}
        added = {"interlock": "mutant", "says": "Wait.", "blocks": [step["step"]], **rule}

        def change(c: _Copy, added: Tree = added) -> None:
            root = c.trees[c.main]
            root["interlocks"] = [*root.get("interlocks", []), added]

        yield f"{step['step']} blocked by {rule}", change


def _section_when(whole: _Copy) -> Iterator[Change]:
    root = whole.trees[whole.main]
    for place, section in enumerate(root["sections"]):
        for name in root.get("options", {}):

            def change(c: _Copy, place: int = place, name: str = name) -> None:
                section = c.trees[c.main]["sections"][place]
                section["when"] = {name: not section.get("when", {}).get(name, False)}

            yield f"section {section.get('section', section.get('include'))} when {name}", change


def _reopens(whole: _Copy) -> Iterator[Change]:
    places = list(_steps(whole))
    for place, (where, step) in enumerate(places):
        target = places[(place * 7) // 9][1]["step"]  # an earlier one, another for each

        def change(c: _Copy, where: tuple[int, int] = where, target: str = target) -> None:
            c.at(where)["reopens"] = [target]

        yield f"{step['step']} reopens {target}", change


KINDS: Final[dict[str, Callable[[_Copy], Iterator[Change]]]] = {
    "step dropped": _drop,
    "neighbors swapped": _swap,
    "sections swapped": _swap_sections,
    "step doubled": _duplicate,
    "tag dropped": _untag,
    "tag dropped, with a reason": _untag_with_reason,
    "tag changed": _retag,
    "tag of another hazard": _other_hazard,
    "tag added": _tag_more,
    "off dropped": _drop_entry("off"),
    "back dropped": _drop_entry("back"),
    "off renamed": _edit_entry("off", lambda e: e.update(item=f"{e['item']} piece")),
    "off counted once more": _edit_entry("off", lambda e: e.update(count=e.get("count", 1) + 1)),
    "back counted once more": _edit_entry("back", lambda e: e.update(count=e.get("count", 1) + 1)),
    "new one not asked for": _edit_entry("back", lambda e: e.update(new=False)),
    "optional changed": _optional,
    "when of a step changed": _when,
    "when of a section changed": _section_when,
    "reopens changed": _reopens,
    "interlock added": _interlocks,
}
