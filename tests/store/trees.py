"""Folders compared byte for byte."""

from __future__ import annotations

from pathlib import Path


def tree(folder: Path) -> dict[str, bytes | None]:
    """Every file's bytes by relative name, and every folder's name."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else None
        for path in folder.rglob("*")
    }
