"""What must agree between the parts of a checklist: names, options, repeats, off and back.

It works on the tree, not on the models, so that a wrong key in one step hides no finding in
another.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from assistant.checklist.explain import did_you_mean, nearest
from assistant.checklist.naming import NAME
from assistant.checklist.positions import ListNode, MapNode, Node, ScalarNode
from assistant.checklist.scalars import shown
from assistant.errors import Finding

MAX_STEPS: Final = 2_000
EACH: Final = "{each}"
_PLACEHOLDER: Final = re.compile(r"\{[^{}]*\}|[{}]")
_NOT_SPOKEN: Final = frozenset({"step", "section", "when", "each", "reopens", "include"})


@dataclass(frozen=True, slots=True)
class Part:
    """A section as its file has it: one of the checklist's own, or an included file."""

    file: str
    node: MapNode
    include: MapNode | None = None

    @property
    def steps(self) -> tuple[MapNode, ...]:
        """Its steps, those that are maps."""
        return maps(self.node.get("steps"))


def maps(node: Node | None) -> tuple[MapNode, ...]:
    """The items of a list that are maps; none when it is no list."""
    items = node.items if isinstance(node, ListNode) else ()
    return tuple(item for item in items if isinstance(item, MapNode))


def texts(node: Node | None) -> tuple[ScalarNode, ...]:
    """The items of a list that are texts."""
    items = node.items if isinstance(node, ListNode) else ()
    return tuple(i for i in items if isinstance(i, ScalarNode) and isinstance(i.value, str))


def word(node: Node | None) -> str | None:
    """The text of a scalar, or None."""
    return node.raw if isinstance(node, ScalarNode) and node.raw else None


def cross_findings(root: MapNode, file: str, parts: tuple[Part, ...]) -> Iterator[Finding]:
    """Every disagreement between the parts, in the order in which they are read."""
    yield from _sections(parts)
    yield from _step_ids(parts)
    yield from _options(root, file, parts)
    for part in parts:
        yield from _repeats(part)
    yield from _off_and_back(parts)


def too_many_steps(parts: tuple[Part, ...]) -> Finding | None:
    """The refusal of a checklist that is longer than any job; looked for before anything else."""
    total = 0
    for part in parts:
        sides = max(1, len(texts(part.node.get("each"))))
        for step in part.steps:
            total += sides * max(1, len(texts(step.get("each"))))
            if total > MAX_STEPS:
                message = f"more than {MAX_STEPS} steps with their repeats; split the checklist"
                return Finding("error", "too-many-steps", part.file, step.line, message)
    return None


def _once(
    what: str, named: Iterator[tuple[str, int, str]], where: dict[str, str]
) -> Iterator[Finding]:
    for file, line, name in named:
        if name in where:
            message = f'the {what} "{shown(name)}" exists at {where[name]}; choose another name'
            yield Finding("error", f"duplicate-{what}", file, line, message)
        else:
            where[name] = f"{file}:{line}"


def _sections(parts: tuple[Part, ...]) -> Iterator[Finding]:
    def named() -> Iterator[tuple[str, int, str]]:
        for part in parts:
            for key in ("section", "shared"):
                name = word(part.node.get(key))
                if name is not None and (key == "section") == (part.include is None):
                    yield part.file, part.node.line_of(key), name

    yield from _once("section", named(), {})


def _step_ids(parts: tuple[Part, ...]) -> Iterator[Finding]:
    def named() -> Iterator[tuple[str, int, str]]:
        for part in parts:
            for step in part.steps:
                name = word(step.get("step"))
                if name is not None:
                    yield part.file, step.line_of("step"), name

    yield from _once("step", named(), {})


# -- options


@dataclass(frozen=True, slots=True)
class _Choices:
    """What an option may be; no values means yes or no."""

    values: tuple[str, ...]
    known: bool = True  # False when the option itself is wrong, which is its own finding

    def wrong(self, node: Node) -> str | None:
        if not isinstance(node, ScalarNode) or node.faulty or not self.known:
            return None
        if self.values and (not isinstance(node.value, str) or node.raw not in self.values):
            hint = did_you_mean(node.raw, self.values)
            return f'"{shown(node.raw)}" is not one of its values; {hint}'
        if not self.values and not isinstance(node.value, bool):
            return f'it is a yes-or-no option: write true or false, not "{shown(node.raw)}"'
        return None


def _options(root: MapNode, file: str, parts: tuple[Part, ...]) -> Iterator[Finding]:
    node = root.get("options")
    options: dict[str, _Choices] = {}
    for name, option in node.entries if isinstance(node, MapNode) else ():
        if not isinstance(option, MapNode):
            options[name.raw] = _Choices((), known=False)
            continue
        values = option.get("values")
        choices = _Choices(
            tuple(t.raw for t in texts(values)), known=values is None or bool(texts(values))
        )
        options[name.raw] = choices
        default = option.get("default")
        wrong = choices.wrong(default) if default is not None else None
        if default is not None and wrong:
            message = f'the default of option "{shown(name.raw)}": {wrong}'
            yield Finding("error", "option-value", file, default.line, message)
        yield from _doubled(texts(values), "value", file)
    for part in parts:
        if part.include is not None:
            yield from _when(part.include.get("when"), options, file)
        else:
            yield from _when(part.node.get("when"), options, part.file)
        for step in part.steps:
            yield from _when(step.get("when"), options, part.file)


def _when(node: Node | None, options: Mapping[str, _Choices], file: str) -> Iterator[Finding]:
    if not isinstance(node, MapNode):
        return
    for name, value in node.entries:
        if name.faulty:
            continue
        if name.raw not in options:
            said = f'the checklist has no option "{shown(name.raw)}"'
            message = f"{said}; {did_you_mean(name.raw, options)}"
            yield Finding("error", "unknown-option", file, name.line, message)
            continue
        wrong = options[name.raw].wrong(value)
        if wrong:
            message = f'option "{shown(name.raw)}": {wrong}'
            yield Finding("error", "option-value", file, value.line, message)


def _doubled(items: tuple[ScalarNode, ...], what: str, file: str) -> Iterator[Finding]:
    seen: set[str] = set()
    for item in items:
        slug = each_id(item.raw)
        if slug in seen:
            message = f'the {what} "{shown(item.raw)}" stands twice; keep one'
            yield Finding("error", f"duplicate-{what}", file, item.line, message)
        seen.add(slug)


# -- repeats


def each_id(value: str) -> str:
    """A repeat's part of a step id: "Upper left" becomes "upper-left"."""
    return re.sub(r"\W+", "-", value.lower()).strip("-")


def _spoken(node: Node) -> Iterator[ScalarNode]:
    """Every text under a node that is said, shown or compared by name."""
    if isinstance(node, ScalarNode):
        if isinstance(node.value, str):
            yield node
    elif isinstance(node, ListNode):
        for item in node.items:
            yield from _spoken(item)
    else:
        for key, value in node.entries:
            if key.raw not in _NOT_SPOKEN:
                yield from _spoken(value)


def _repeats(part: Part) -> Iterator[Finding]:
    section_each = part.node.get("each") if part.include is None else None
    yield from _each_values(section_each, part.file)
    title = part.node.get("title")
    used = EACH in (word(title) or "")
    if isinstance(title, ScalarNode):
        yield from _placeholders(title, part.file, repeated=section_each is not None)
    for step in part.steps:
        own = step.get("each")
        yield from _each_values(own, part.file)
        if own is not None and section_each is not None:
            message = "a step of a repeated section can't repeat itself; write it once for each"
            yield Finding("error", "each-twice", part.file, step.line_of("each"), message)
        found = False
        for text in _spoken(step):
            repeated = own is not None or section_each is not None
            yield from _placeholders(text, part.file, repeated=repeated)
            found = found or EACH in text.raw
        used = used or found
        if own is not None and not found:
            message = (
                "the step repeats, but none of its texts holds {each}, so nobody could tell "
                "the repeats apart; write {each} where the side is named"
            )
            yield Finding("error", "each-unused", part.file, step.line_of("each"), message)
    if section_each is not None and not used:
        message = "the section repeats, but none of its texts holds {each}; name the side with it"
        yield Finding("error", "each-unused", part.file, part.node.line_of("each"), message)


def _each_values(node: Node | None, file: str) -> Iterator[Finding]:
    yield from _doubled(texts(node), "repeat", file)
    for item in texts(node):
        if not each_id(item.raw):
            message = f'"{shown(item.raw)}" holds no letter or digit to make a step id of'
            yield Finding("error", "bad-value", file, item.line, message)


def _placeholders(text: ScalarNode, file: str, *, repeated: bool) -> Iterator[Finding]:
    for found in _PLACEHOLDER.finditer(text.raw):
        if found[0] == NAME:
            message = "{name} stands for nothing here; include the section with a name: left"
            yield Finding("error", "unknown-placeholder", file, text.line, message)
        elif found[0] != EACH:
            message = f"{shown(found[0])} stands for nothing; only {{each}} does, in a repeat"
            yield Finding("error", "unknown-placeholder", file, text.line, message)
        elif not repeated:
            message = "{each} stands for a side, but nothing repeats here; add each: [left, right]"
            yield Finding("error", "each-missing", file, text.line, message)


# -- off and back


def _off_and_back(parts: tuple[Part, ...]) -> Iterator[Finding]:
    """A thing put back by a name under which nothing came off before, on any choice of options.

    Counts, and which options apply, are proved later; here it is the spelling that is looked at.
    """
    off: dict[str, None] = {}
    told: set[tuple[str, int]] = set()
    for part in parts:
        sides = tuple(t.raw for t in texts(part.node.get("each"))) or ("",)
        for side in sides:
            for step in part.steps:
                for own in tuple(t.raw for t in texts(step.get("each"))) or (side,):
                    off.update((name, None) for name, _ in _named(step.get("off"), own))
                    for name, line in _named(step.get("back"), own):
                        if name not in off and (part.file, line) not in told:
                            told.add((part.file, line))
                            yield _never_off(name, off, part.file, line)


def _named(node: Node | None, each: str) -> Iterator[tuple[str, int]]:
    for entry in maps(node):
        item = entry.get("item")
        name = word(item)
        if name is not None and item is not None:
            yield name.replace(EACH, each), item.line


def _never_off(name: str, off: Mapping[str, None], file: str, line: int) -> Finding:
    near = nearest(name, off)
    hint = f'did you mean "{shown(near)}"?' if near else "name it in the step where it comes off"
    message = f'"{shown(name)}" goes back on here, but it never came off before; {hint}'
    return Finding("error", "back-without-off", file, line, message)
