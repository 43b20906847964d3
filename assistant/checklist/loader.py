"""A checklist and its shared sections, from text to models, or everything that is wrong.

Nothing here opens a file: the texts are handed in by the edge that read them.
"""

from __future__ import annotations

import hashlib
import posixpath
import re
from collections.abc import Mapping
from dataclasses import dataclass
from itertools import islice
from types import MappingProxyType
from typing import Final

from assistant.checklist.crosscheck import Part, cross_findings, maps, too_many_steps, word
from assistant.checklist.explain import did_you_mean, shape_findings
from assistant.checklist.fields import INCLUSION_NAME
from assistant.checklist.model import Checklist, Include, Section, SharedSection, Step
from assistant.checklist.naming import MAX_NAMED, named_section
from assistant.checklist.positions import (
    MAX_FINDINGS,
    MapNode,
    ScalarNode,
    Text,
    follow,
    plain,
    read_yaml,
)
from assistant.checklist.scalars import shown
from assistant.errors import BadFile, Finding

_INCLUDE: Final = re.compile(r"[a-z0-9-]+(?:/[a-z0-9-]+)*\.yaml")  # as model.Include has it
_NOTHING_UNREADABLE: Final[Mapping[str, Finding]] = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class Source:
    """One file of a checklist.

    Attributes:
        name: its path below the checklist's folder: "shared/battery-off.yaml".
        file: its path as the person gave it, for messages.
        text: all of it; encoded as UTF-8 it gives the file's bytes again.
    """

    name: str
    file: str
    text: str


@dataclass(frozen=True, slots=True)
class LoadedSection:
    """A section with where it was written.

    Attributes:
        section: for a shared section, with the conditions of its include.
        file: its file as the person gave it.
        title: the title as it stands in the file.
        nodes: the trees of its steps, in order.
    """

    section: Section
    file: str
    title: ScalarNode
    nodes: tuple[MapNode, ...]

    def line(self, step: int, *location: str | int) -> int:
        """The line of a step of this section (by index), or of something inside it."""
        return follow(self.nodes[step], location).line


@dataclass(frozen=True, slots=True)
class Loaded:
    """A checklist without shape errors.

    Attributes:
        sections: own and included ones in order, all as sections.
        sources: the checklist's file first, then the included ones in order.
        node: the checklist's tree, for the lines of what stands outside sections.
    """

    checklist: Checklist
    sections: tuple[LoadedSection, ...]
    sources: tuple[Source, ...]
    node: MapNode

    @property
    def file(self) -> str:
        """The checklist's file as the person gave it."""
        return self.sources[0].file

    @property
    def sha256(self) -> str:
        """Hex digest of all files, as `sha256sum MAIN INCLUDED... | sha256sum` prints it.

        The names are those below the checklist's folder, the order is that of `sources`.
        """
        sums = "".join(
            f"{hashlib.sha256(source.text.encode()).hexdigest()}  {source.name}\n"
            for source in self.sources
        )
        return hashlib.sha256(sums.encode()).hexdigest()

    def steps(self) -> tuple[tuple[LoadedSection, int, Step], ...]:
        """Every step as it was written, with its section and its index there."""
        return tuple(
            (part, index, step)
            for part in self.sections
            for index, step in enumerate(part.section.steps)
        )


def included(text: str, file: str) -> tuple[str, ...]:
    """The files that a checklist includes, as it names them; only names that are allowed.

    Raises:
        BadFile: the text can't be read as YAML at all.
    """
    root = read_yaml(text, file).root
    names = (word(item.get("include")) for item in maps(root.get("sections")))
    return tuple(dict.fromkeys(n for n in names if n is not None and _INCLUDE.fullmatch(n)))


def load(
    files: Mapping[str, str],
    main: str,
    unreadable: Mapping[str, Finding] = _NOTHING_UNREADABLE,
) -> Loaded:
    """Load a checklist.

    Args:
        files: texts by path as the person gave it; included ones lie below the folder of `main`.
        main: which of them is the checklist.
        unreadable: by path, why an included file could not be handed in.

    Raises:
        BadFile: with every finding in all the files, in order of file and line.
    """
    loader = _Loader(files, posixpath.dirname(main), unreadable)
    return loader.load(main)


class _Loader:
    """Collects sources, parts and findings of one checklist."""

    def __init__(
        self, files: Mapping[str, str], folder: str, unreadable: Mapping[str, Finding]
    ) -> None:
        self._files = files
        self._folder = folder
        self._unreadable = unreadable
        self._sources: list[Source] = []
        self._shared: dict[str, Text] = {}
        self._findings: list[Finding] = []

    def load(self, main: str) -> Loaded:
        text = read_yaml(self._source(main, posixpath.basename(main)), main)
        self._findings.extend(text.findings)
        if "shared" in {key.raw for key, _ in text.root.entries}:
            message = "this is a shared section; check or start a checklist that includes it"
            line = text.root.line_of("shared")
            raise BadFile((Finding("error", "not-a-checklist", main, line, message),))
        parts = tuple(self._parts(text.root, main))
        too_long = too_many_steps(parts)
        if too_long is not None:
            raise BadFile((too_long,))
        self._findings.extend(shape_findings(Checklist, text.root, main))
        for part in parts:
            if part.include is not None:
                self._findings.extend(shape_findings(SharedSection, part.node, part.file))
        self._findings.extend(self._languages(text.root, parts))
        self._findings.extend(islice(cross_findings(text.root, main, parts), MAX_FINDINGS))
        self._refuse_if_wrong()
        checklist = Checklist.model_validate(plain(text.root))
        return Loaded(checklist, _sections(checklist, parts), tuple(self._sources), text.root)

    def _source(self, file: str, name: str) -> str:
        text = self._files[file]
        self._sources.append(Source(name, file, text))
        return text

    def _refuse_if_wrong(self) -> None:
        if not self._findings:
            return
        order = {source.file: place for place, source in enumerate(self._sources)}
        unique = dict.fromkeys(self._findings)
        raise BadFile(tuple(sorted(unique, key=lambda f: (order.get(f.file, len(order)), f.line))))

    def _parts(self, root: MapNode, main: str) -> list[Part]:
        parts: list[Part] = []
        called: dict[str, set[str]] = {}
        for item in maps(root.get("sections")):
            file = item.get("include")
            if file is None:
                parts.append(Part(main, item))
            elif isinstance(file, ScalarNode) and _INCLUDE.fullmatch(file.raw):
                if not self._may_be_included(file, item, called, main):
                    continue
                part = self._included(file, item, main)
                parts.extend([part] if part is not None else [])
        return parts

    def _may_be_included(
        self, file: ScalarNode, item: MapNode, called: dict[str, set[str]], main: str
    ) -> bool:
        """Whether this inclusion is told from those before it, which `called` has by file."""
        name = _name_of(item).replace(" ", "-")  # as step names have it
        before = called.setdefault(file.raw, set())
        message = ""
        if before and (name in before or "" in {name, *before}):
            message = (
                f'"{shown(file.raw)}" is included more than once; each time needs a name of its '
                "own, like name: left"
            )
        elif name and sum(len(names - {""}) for names in called.values()) >= MAX_NAMED:
            message = f"more than {MAX_NAMED} inclusions have a name; split the checklist"
        if message:
            self._find("duplicate-include", main, file.line, message)
            return False
        before.add(name)
        return True

    def _included(self, name: ScalarNode, item: MapNode, main: str) -> Part | None:
        file = posixpath.join(self._folder, name.raw)
        if file in self._unreadable:
            self._findings.append(self._unreadable[file])
            return None
        if file not in self._files:
            others = [posixpath.relpath(f, self._folder or ".") for f in self._files if f != main]
            message = (
                f'there is no file "{shown(name.raw)}" to include; {_known_files(name, others)}'
            )
            self._find("no-such-include", main, name.line, message)
            return None
        try:
            text = self._read(file, name.raw)
        except BadFile as error:
            self._findings.extend(error.findings)
            return None
        self._findings.extend(text.findings)
        if text.root.get("shared") is None and text.root.get("checklist") is not None:
            message = f'"{shown(name.raw)}" is a whole checklist; only shared sections are included'
            self._find("not-shared", main, name.line, message)
            return None
        called = _name_of(item)
        return Part(file, named_section(text.root, called) if called else text.root, item)

    def _read(self, file: str, name: str) -> Text:
        """A shared section, read once however often it is included."""
        if file not in self._shared:
            self._shared[file] = read_yaml(self._source(file, name), file)
        return self._shared[file]

    def _find(self, code: str, file: str, line: int, message: str) -> None:
        self._findings.append(Finding("error", code, file, line, message))

    def _languages(self, root: MapNode, parts: tuple[Part, ...]) -> list[Finding]:
        own = word(root.get("language")) or "en"
        findings = []
        for part in parts:
            theirs = word(part.node.get("language")) or "en"
            if part.include is not None and theirs != own:
                message = f'is in language "{shown(theirs)}", the checklist is in "{shown(own)}"'
                line = part.node.line_of("language")
                findings.append(Finding("error", "other-language", part.file, line, message))
        return findings


def _name_of(item: MapNode) -> str:
    """The name of an inclusion, "" for none; one that can't be is told by its shape."""
    name = word(item.get("name"))
    return name if name is not None and re.fullmatch(INCLUSION_NAME, name) else ""


def _known_files(name: ScalarNode, others: list[str]) -> str:
    return did_you_mean(name.raw, others) if others else "its path begins below this file's folder"


def _sections(checklist: Checklist, parts: tuple[Part, ...]) -> tuple[LoadedSection, ...]:
    loaded = []
    for item, part in zip(checklist.sections, parts, strict=True):
        if isinstance(item, Include):
            shared = SharedSection.model_validate(plain(part.node))
            section = Section(
                section=shared.shared, title=shared.title, when=item.when, steps=shared.steps
            )
        else:
            section = item
        title = part.node.get("title")
        line = title.line if title is not None else part.node.line
        shown_title = ScalarNode(section.title, section.title, line)
        loaded.append(LoadedSection(section, part.file, shown_title, part.steps))
    return tuple(loaded)
