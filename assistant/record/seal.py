"""The closing seal: one short value that stands for every byte of a record."""

from __future__ import annotations

from assistant.errors import BadInput, JournalUnwritable, RecordDamaged
from assistant.record.chain import SEALED
from assistant.record.cover import (
    Tree,
    digest_file,
    digest_of_covers,
    fault,
    look,
    may_cover,
    stray,
)
from assistant.record.entry import JSON, is_digest
from assistant.record.journal import Journal
from assistant.record.signing import ShopKey, seal_message

_GROUPS, _GROUP = 4, 4


def seal(journal: Journal, wall: str, mono: float, key: ShopKey | None = None) -> str:
    """Close the record with an entry "sealed" and return the seal: that entry's hash.

    The entry counts the entries before it and holds one hash over all covered files; files of
    clips/ and checklist/ that no entry named are listed in it, so that every file is covered.
    With a key, its signature over all of that stands in it.

    Raises:
        RecordDamaged: a clip or copy is missing or changed, or something that is no part of the
            record lies in its folder; the record stays open.
        RecordSealed: it is sealed already.
        JournalUnwritable: the system refuses to read or to write; ask again.
    """
    try:
        tree = look(journal.folder)
        covered = _covered(journal, tree)
        late = {
            name: digest
            for name in sorted(tree.files - covered.keys())
            if may_cover(name) and (digest := digest_file(journal.folder, tree, name)) is not None
        }
    except OSError as error:
        msg = f"the record can't be read to seal it, so it is not sealed: {error}"
        raise JournalUnwritable(msg) from error
    covered.update(late)
    problem = stray(tree, covered)
    if problem is not None:
        raise RecordDamaged(f"the record can't be sealed: {problem}")
    files: JSON = {"count": len(covered), "sha256": digest_of_covers(covered.items())}
    data: dict[str, JSON] = {
        "entries": len(journal),
        "files": files,
        "covers": [{"file": name, "sha256": digest} for name, digest in late.items()],
    }
    if key is not None:
        prev = journal.last.hash if journal.last is not None else ""
        data["signed"] = key.sign(seal_message(journal.job, prev, len(journal), files))
    return journal.append(SEALED, data, wall, mono).hash


def fingerprint(value: str) -> str:
    """A seal in short, to read out or print: its first 8 bytes as "3f2a 9c01 77de 0b45".

    Raises:
        BadInput: this isn't a seal.
    """
    if not is_digest(value):
        raise BadInput(f"{value!r} is not a seal: 64 hex digits")
    return " ".join(value[i * _GROUP : (i + 1) * _GROUP] for i in range(_GROUPS))


def _covered(journal: Journal, tree: Tree) -> dict[str, str]:
    """Files by name with their hash, each checked on the disk."""
    covered: dict[str, str] = {}
    for n, cover in journal.covers:
        known = covered.setdefault(cover.file, cover.sha256)
        problem = (
            f"{cover.file} has two different hashes on record"
            if known != cover.sha256
            else fault(journal.folder, tree, cover)
        )
        if problem is not None:
            raise RecordDamaged(f"entry {n}: {problem}", n)
    return covered
