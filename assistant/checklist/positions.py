"""YAML text to a tree that knows its lines, with hostile input refused on the way.

The tree is built from the parser's events, one by one: no object is ever constructed, no
recursion follows the text, and the limits stop the reading where they are passed, not after.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import yaml

from assistant.checklist.scalars import UNSAFE, Plain, plain_value, shown
from assistant.errors import BadFile, Finding

MAX_DEPTH: Final = 20
MAX_NODES: Final = 40_000  # a thousand steps of twenty keys
MAX_FINDINGS: Final = 500  # a file with more is not one that a person mends line by line
OFF_KEY: Final = "off"  # the model's own key; a key is always a word here, so it stays readable

# The C parser of libyaml where the wheel has it: ten times as fast, the same events.
PARSER: Final[Any] = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class ScalarNode:
    """A single value.

    Attributes:
        raw: as it was written, without quotes.
        line: 1-based.
        faulty: a finding about it exists already; further ones would repeat it.
    """

    value: Plain
    raw: str
    line: int
    faulty: bool = False


@dataclass(frozen=True, slots=True)
class ListNode:
    """A list, with the line it begins on."""

    items: tuple[Node, ...]
    line: int


@dataclass(frozen=True, slots=True)
class MapNode:
    """Keys with their values; the keys are unique, the first of duplicates stays."""

    entries: tuple[tuple[ScalarNode, Node], ...]
    line: int

    def get(self, key: str) -> Node | None:
        """The value of a key, or None."""
        return next((value for name, value in self.entries if name.raw == key), None)

    def line_of(self, key: str) -> int:
        """The line of a key, or where the map begins."""
        return next((name.line for name, _ in self.entries if name.raw == key), self.line)


Node = ScalarNode | ListNode | MapNode


@dataclass(frozen=True, slots=True)
class Text:
    """A file's tree and what is wrong with its words already."""

    root: MapNode
    findings: tuple[Finding, ...]


@dataclass(slots=True)
class _Open:
    """A list or map whose end has not been read yet."""

    is_map: bool
    line: int
    children: list[Node] = field(default_factory=list)


def plain(node: Node) -> object:
    """The tree as dictionaries, tuples and values, as the strict models take them.

    Recursion is bounded by MAX_DEPTH, which reading has enforced.
    """
    if isinstance(node, ScalarNode):
        return node.value
    if isinstance(node, ListNode):
        return tuple(plain(item) for item in node.items)
    return {name.raw: plain(value) for name, value in node.entries}


def follow(node: Node, location: Sequence[str | int]) -> Node:
    """The node furthest along a path of keys and indexes; parts that don't exist are passed over.

    Pydantic puts names of alternatives into its locations, which stand in no file.
    """
    for part in location:
        if isinstance(node, MapNode) and isinstance(part, str):
            node = node.get(part) or node
        elif isinstance(node, ListNode) and isinstance(part, int) and part < len(node.items):
            node = node.items[part]
    return node


def read_yaml(text: str, file: str) -> Text:
    """Read one YAML document whose top level is keys with values.

    Raises:
        BadFile: it can't be read at all, or a limit is passed.
    """
    _refuse_unsafe_characters(text, file)
    text = text.removeprefix("\ufeff")
    builder = _Builder(file, text.splitlines())
    try:
        for event in yaml.parse(text, Loader=PARSER):
            builder.take(event)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        if "quoted scalar" in (error.context or ""):
            mark = error.context_mark  # where the quote begins, not where the file ends
        line = mark.line + 1 if mark is not None else 0
        raise builder.refusal("yaml-syntax", line, _syntax_message(error)) from error
    except yaml.YAMLError as error:
        raise builder.refusal("yaml-syntax", 0, shown(str(error), 200)) from error
    if not isinstance(builder.root, MapNode):
        line = builder.root.line if builder.root else 0
        message = "the file holds no keys; a checklist begins with lines like checklist: my-name"
        raise builder.refusal("not-a-checklist", line, message)
    return Text(builder.root, tuple(builder.findings))


def _refuse_unsafe_characters(text: str, file: str) -> None:
    found = UNSAFE.search(text, 1 if text.startswith("\ufeff") else 0)
    if found is None:
        return
    line = text.count("\n", 0, found.start()) + 1
    message = (
        f"holds the control or invisible character U+{ord(found[0]):04X}, "
        "which a person can't see; remove it"
    )
    raise BadFile((Finding("error", "control-character", file, line, message),))


_HINTS: Final = (
    (r"nesting depth", "nested too deep; a checklist needs about 8 levels"),
    (
        r"mapping values are not allowed",
        'a text that holds ": " must be in quotes; if none does, a line here is indented too far',
    ),
    (r"cannot start any token", "indent with spaces, and quote a text that begins with %, @ or `"),
    (r"found character '\\t'", "indent with spaces, never with tabs"),
    (r"expected <block end>", "this line is indented differently from those it belongs to"),
    (r"did not find expected key", "this line is indented differently from those it belongs to"),
    (r"could not find expected ':'", 'a key ends with ":" and a space'),
    (r"did not find expected '-'", "this line is indented differently from those it belongs to"),
    (r"quoted scalar|end of stream", "a quote or bracket is not closed"),
)


def _syntax_message(error: yaml.MarkedYAMLError) -> str:
    what = " ".join(part for part in (error.context, error.problem) if part)
    hint = next((hint for pattern, hint in _HINTS if re.search(pattern, what)), None)
    said = shown(what, 160)
    return f"not readable as YAML ({said}): {hint}" if hint else f"not readable as YAML ({said})"


# What most likely happened where a value is empty, by the sign that follows.
_EMPTY: Final = {
    "#": 'what follows "#" is a comment to YAML; put a text that holds # in quotes',
    ",": "nothing is written here; inside { } a text that holds a comma must be in quotes",
    "}": "nothing is written here; inside { } a text that holds a comma must be in quotes",
}


class _Builder:
    """Takes parser events in order; holds the tree when the last has been taken."""

    def __init__(self, file: str, lines: list[str]) -> None:
        self.file = file
        self.root: Node | None = None
        self.findings: list[Finding] = []
        self._lines = lines
        self._open: list[_Open] = []
        self._nodes = 0
        self._documents = 0

    def refusal(self, code: str, line: int, message: str) -> BadFile:
        """The error that ends reading, after what was found before it."""
        return BadFile((*self.findings, Finding("error", code, self.file, line, message)))

    def take(self, event: yaml.Event) -> None:
        """Add one event to the tree.

        Raises:
            BadFile: the event is something that no checklist may hold.
        """
        line = event.start_mark.line + 1 if event.start_mark else 0
        self._refuse(event, line)
        if isinstance(event, yaml.ScalarEvent):
            self._add(self._scalar(event, line))
        elif isinstance(event, yaml.CollectionStartEvent):
            if len(self._open) >= MAX_DEPTH:
                message = f"nested more than {MAX_DEPTH} deep; a checklist needs about 8"
                raise self.refusal("too-deep", line, message)
            self._open.append(_Open(isinstance(event, yaml.MappingStartEvent), line))
        elif isinstance(event, yaml.CollectionEndEvent):
            self._add(self._closed(self._open.pop()))

    def _refuse(self, event: yaml.Event, line: int) -> None:
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            message = (
                "anchors (&) and aliases (*) are not allowed, since a file of them can grow "
                "without end; what several places need goes into a shared section (include)"
            )
            raise self.refusal("yaml-alias", line, message)
        if isinstance(event, yaml.NodeEvent) and getattr(event, "tag", None) is not None:
            message = (
                f"the tag {shown(str(getattr(event, 'tag', '')))} is not allowed; "
                "write plain text, numbers, lists and keys only"
            )
            raise self.refusal("yaml-tag", line, message)
        if isinstance(event, yaml.DocumentStartEvent):
            self._documents += 1
            if self._documents > 1:
                message = "a second document begins here (---); write one checklist a file"
                raise self.refusal("several-documents", line, message)
            if event.version or event.tags:
                message = "YAML directives (%) are not allowed; remove the line"
                raise self.refusal("yaml-directive", line, message)

    def _add(self, node: Node) -> None:
        self._nodes += 1
        if self._nodes > MAX_NODES or len(self.findings) >= MAX_FINDINGS:
            limit = "values" if self._nodes > MAX_NODES else "findings"
            message = (
                f"too many {limit} to be a checklist that a person wrote; reading stopped here"
            )
            raise self.refusal("too-much", node.line, message)
        if self._open:
            self._open[-1].children.append(node)
        else:
            self.root = node

    def _find(self, code: str, line: int, message: str) -> None:
        self.findings.append(Finding("error", code, self.file, line, message))

    def _scalar(self, event: yaml.ScalarEvent, line: int) -> ScalarNode:
        raw = event.value
        if event.style in ("|", ">") or (event.style != '"' and "\n" in raw):
            raw = " ".join(raw.split())  # text for the voice has no line ends
        if event.style == '"' and (UNSAFE.search(raw) or re.search(r"[\t\n\r]", raw)):
            message = f'"{shown(raw)}" holds a control character; write words only'
            self._find("control-character", line, message)
            return ScalarNode(raw, raw, line, faulty=True)
        if event.style:
            return ScalarNode(raw, raw, line)
        self._look_for_cut_text(event, line)
        value, wrong = plain_value(raw)
        if raw == OFF_KEY and self._at_key():
            return ScalarNode(raw, raw, line)
        if wrong is None:
            return ScalarNode(value, raw, line)
        if value is None:
            wrong = _EMPTY.get(self._rest_of_line(event)[:1], wrong)
        self._find("empty-value" if value is None else "ambiguous-word", line, wrong)
        return ScalarNode(value, raw, line, faulty=True)

    def _at_key(self) -> bool:
        return bool(self._open) and self._open[-1].is_map and len(self._open[-1].children) % 2 == 0

    def _rest_of_line(self, event: yaml.ScalarEvent) -> str:
        mark = event.end_mark
        if mark is None or mark.line >= len(self._lines):
            return ""
        return self._lines[mark.line][mark.column : mark.column + 60].lstrip()  # enough to tell

    def _look_for_cut_text(self, event: yaml.ScalarEvent, line: int) -> None:
        rest = self._rest_of_line(event)
        if event.value and re.match(r"#[^\s#]", rest):
            message = (
                f'the text ends before "{shown(rest, 30)}", since " #" begins a comment; '
                'quote the text, or write a comment as "# " with a space'
            )
            self._find("text-cut", line, message)

    def _closed(self, done: _Open) -> Node:
        if not done.is_map:
            return ListNode(tuple(done.children), done.line)
        entries: dict[str, tuple[ScalarNode, Node]] = {}
        for key, value in zip(done.children[::2], done.children[1::2], strict=True):
            if len(self.findings) >= MAX_FINDINGS:
                break  # the next value that is read ends the reading
            if not isinstance(key, ScalarNode):
                self._find("bad-key", key.line, "a key is a word, not a list or another map")
            elif key.raw in entries:
                first = entries[key.raw][0].line
                message = (
                    f'the key "{shown(key.raw)}" stands twice, first in line {first}; keep one'
                )
                self._find("duplicate-key", key.line, message)
            else:
                entries[key.raw] = (key, value)
        return MapNode(tuple(entries.values()), done.line)
