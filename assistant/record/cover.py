"""Which files of a record its entries answer for, and what really lies in the folder.

Two shapes inside an entry's data, at any depth, cover files; audit needs no other knowledge of
what the caller's kinds mean:

    "clip":   {"file": "clips/000001.flac", "sha256": "...", "seconds": 1.2}
    "covers": [{"file": "checklist/bars.yaml", "sha256": "..."}, ...]
"""

from __future__ import annotations

import hashlib
import os
import re
import stat
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, TypeGuard

from assistant.record.entry import NotAnEntry, is_digest, walk
from assistant.record.folder import CHECKLIST, CLIPS, JOURNAL, safe_name

CLIP_FILE = re.compile(rf"{CLIPS}/\d{{6,}}\.flac", re.ASCII)
_CLIP_KEYS = {"file", "sha256", "seconds"}
_FILE_KEYS = {"file", "sha256"}
_BLOCK = 1 << 18


@dataclass(frozen=True, slots=True)
class Cover:
    """A file that an entry answers for: name relative to the record folder, and its SHA-256."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Tree:
    """What lies in a record folder, without following links.

    Attributes:
        files: plain files by relative name, parts divided by /; the journal is not among them.
        folders: folders by relative name.
        odd: what else was found: relative name to plain words, for example "a symbolic link".
    """

    files: frozenset[str]
    folders: frozenset[str]
    odd: Mapping[str, str]


def covers_of(data: object) -> tuple[Cover, ...]:
    """The files that an entry's data covers, sorted by name.

    Raises:
        NotAnEntry: a cover names a file outside clips/ and checklist/, or has no SHA-256.
    """
    found: list[object] = []
    for key, value in walk(data):
        if key == "clip" and isinstance(value, dict) and value.keys() == _CLIP_KEYS:
            found.append(value)
        elif key == "covers" and _is_cover_list(value):
            found.extend(value)
    return tuple(sorted((_cover(item) for item in found), key=lambda cover: cover.file))


def may_cover(file: str) -> bool:
    """Whether a relative name may stand in a cover: a numbered clip, or a checklist copy."""
    if file.startswith(f"{CHECKLIST}/"):
        return safe_name(file)
    return CLIP_FILE.fullmatch(file) is not None


def look(folder: Path) -> Tree:
    """List a record folder, following no link.

    Raises:
        OSError: a part of it can't be listed.
    """
    files: set[str] = set()
    folders: set[str] = set()
    odd: dict[str, str] = {}
    waiting = [""]
    while waiting:
        inside = waiting.pop()
        with os.scandir(folder / inside) as found:
            for item in found:
                name = f"{inside}/{item.name}" if inside else item.name
                mode = item.stat(follow_symlinks=False).st_mode
                if stat.S_ISREG(mode):
                    files.add(name)
                elif stat.S_ISDIR(mode):
                    folders.add(name)
                    waiting.append(name)
                else:
                    odd[name] = "a symbolic link" if stat.S_ISLNK(mode) else "not a plain file"
    return Tree(frozenset(files - {JOURNAL}), frozenset(folders), odd)


def stray(tree: Tree, covered: Iterable[str]) -> str | None:
    """In plain words, the first thing in the folder that no entry covers; None when all is."""
    names = frozenset(covered)
    parents = {CLIPS, CHECKLIST}
    for name in names:
        parents.update("/".join(name.split("/")[:depth]) for depth in range(1, name.count("/") + 1))
    for name in sorted(tree.odd):
        return f"{name!r} is {tree.odd[name]}; a record holds only plain files"
    for name in sorted(tree.files - names):
        return f"file {name!r} is not part of the record: no entry covers it"
    for name in sorted(tree.folders - parents):
        return f"folder {name!r} is not part of the record"
    return None


def digest_file(folder: Path, tree: Tree, name: str) -> str | None:
    """SHA-256 of a plain file that `look` found, or None when it isn't there.

    Raises:
        OSError: it is there but can't be read.
    """
    if name not in tree.files:
        return None
    digest = hashlib.sha256()
    with open_plain(folder / name) as file:
        while block := file.read(_BLOCK):
            digest.update(block)
    return digest.hexdigest()


def open_plain(path: Path) -> BinaryIO:
    """Open a file for reading; a symbolic link is refused where the system can.

    Raises:
        OSError: it isn't there, is a link or can't be read.
    """
    flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0)
    return open(os.open(path, flags), "rb")  # noqa: PTH123 - wraps a descriptor


def fault(folder: Path, tree: Tree, cover: Cover) -> str | None:
    """In plain words, what is wrong with a covered file; None when it is as it was.

    Raises:
        OSError: the file is there but can't be read.
    """
    if cover.file in tree.odd:
        return f"{cover.file} is {tree.odd[cover.file]}; a record holds only plain files"
    found = digest_file(folder, tree, cover.file)
    if found is None:
        return f"{cover.file} is missing"
    if found != cover.sha256:
        return f"{cover.file} was changed: its SHA-256 is not the one on record"
    return None


def digest_of_covers(covers: Iterable[tuple[str, str]]) -> str:
    """One SHA-256 over all (file, sha256) pairs: lines "<sha256>  <file>", sorted by file."""
    lines = (f"{sha256}  {file}\n" for file, sha256 in sorted(covers))
    digest = hashlib.sha256()
    for line in lines:
        digest.update(line.encode())
    return digest.hexdigest()


def _is_cover_list(value: object) -> TypeGuard[list[object]]:
    return isinstance(value, list) and all(
        isinstance(item, dict) and item.keys() == _FILE_KEYS for item in value
    )


def _cover(item: object) -> Cover:
    assert isinstance(item, dict)  # noqa: S101 - covers_of let nothing else through
    file, sha256 = item["file"], item["sha256"]
    if not isinstance(file, str) or not may_cover(file):
        raise NotAnEntry(f"it covers {file!r}, which can't be a file of a record")
    if not is_digest(sha256):
        raise NotAnEntry(f"it covers {file} without a proper SHA-256")
    return Cover(file, sha256)
