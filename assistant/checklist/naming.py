"""A shared section that is included under a name of its own: left, right, front circuit.

The name is written into the section's tree before anything looks at it, so that all that is proved
of a checklist, its step names, its off-list, its stops, is proved of each inclusion by itself.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Final

from assistant.checklist.positions import ListNode, MapNode, Node, ScalarNode

NAME: Final = "{name}"
MAX_NAMED: Final = 20  # inclusions under a name in one checklist; more is no work of one job
_LONGEST: Final = 500  # a longer text is refused by its shape; the name doesn't make it grow
_THINGS: Final = {"off": "item", "back": "item", "parts": "name"}
"""Lists of a step with the key under which their entries are known by name."""

Change = Callable[[str], str]


def named_section(root: MapNode, name: str) -> MapNode:
    """The tree of a shared section for an inclusion under this name; the lines stay.

    `{name}` in its texts becomes the name. Names of steps get it in front ("left-bleed"), and so
    do texts that tell things apart and don't hold it: what is to be done, items, parts, fasteners.

    Args:
        root: the section as its file has it.
        name: words in small letters, as `model.Include` has them.
    """
    prefix = name.replace(" ", "-")
    own = frozenset(
        entry.raw
        for step in _items(root.get("steps"))
        if isinstance(step, MapNode) and isinstance(entry := step.get("step"), ScalarNode)
    )

    def identified(text: str) -> str:
        return f"{prefix}-{text}"

    def reopened(text: str) -> str:
        return identified(text) if text in own else text

    def thing(text: str) -> str:
        return text if NAME in text else f"{NAME} {text}"

    def action(text: str) -> str:
        return text if NAME in text else f"{name[0].upper()}{name[1:]}: {text}"

    def title(text: str) -> str:
        return text if NAME in text else f"{text}, {NAME}"

    def step_of(node: Node) -> Node:
        node = _at(_at(_at(node, "step", identified), "reopens", reopened), "do", action)
        node = _under(node, "fastener", lambda one: _at(one, "name", thing))
        for key, inner in _THINGS.items():
            node = _under(node, key, partial(_each, key=inner, change=thing))
        return node

    node = _at(_at(root, "shared", identified), "title", title)
    node = _under(node, "steps", lambda steps: _mapped(steps, step_of))
    filled = _changed(node, lambda text: text.replace(NAME, name))
    return filled if isinstance(filled, MapNode) else root


def _items(node: Node | None) -> tuple[Node, ...]:
    return node.items if isinstance(node, ListNode) else ()


def _mapped(node: Node, change: Callable[[Node], Node]) -> Node:
    """A list with every item changed."""
    if not isinstance(node, ListNode):
        return node
    return ListNode(tuple(change(item) for item in node.items), node.line)


def _each(node: Node, key: str, change: Change) -> Node:
    """A list of maps with the text of a key changed in each."""
    return _mapped(node, lambda one: _at(one, key, change))


def _at(node: Node, key: str, change: Change) -> Node:
    """A map with the texts under a key changed."""
    return _under(node, key, lambda value: _changed(value, change))


def _under(node: Node, key: str, change: Callable[[Node], Node]) -> Node:
    if not isinstance(node, MapNode):
        return node
    entries = ((name, change(value) if name.raw == key else value) for name, value in node.entries)
    return MapNode(tuple(entries), node.line)


def _changed(node: Node, change: Change) -> Node:
    """Every text under a node changed; recursion is bounded by positions.MAX_DEPTH."""
    if isinstance(node, ListNode):
        return _mapped(node, lambda one: _changed(one, change))
    if isinstance(node, MapNode):
        entries = ((name, _changed(value, change)) for name, value in node.entries)
        return MapNode(tuple(entries), node.line)
    if not isinstance(node.value, str) or not node.raw or len(node.raw) > _LONGEST:
        return node
    text = change(node.raw)
    return ScalarNode(text, text, node.line, node.faulty)
