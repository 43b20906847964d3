"""Disks that fail on purpose, and real places where nothing can be written."""

from __future__ import annotations

import errno
import os
import resource
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from assistant.record.durable import Disk

_NOBODY = 65534


class FailingDisk(Disk):
    """Works until `fail` is set: then writes only `room` bytes, or refuses to sync."""

    def __init__(self) -> None:
        self.room: int | None = None
        self.sync_fails = False

    def write(self, fd: int, data: bytes) -> None:
        """Write what there is room for, then say that the disk is full."""
        if self.room is None:
            super().write(fd, data)
            return
        super().write(fd, data[: self.room])
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    def sync(self, fd: int) -> None:
        """Refuse as a dying drive does."""
        if self.sync_fails:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        super().sync(fd)


@contextmanager
def tiny_disk(path: Path) -> Iterator[Path]:
    """A real file system of 64 KiB, or nothing (OSError) where this process may not mount."""
    path.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(path)],
        check=False,
        capture_output=True,
    )
    if done.returncode:
        raise PermissionError(done.stderr.decode(errors="replace"))
    try:
        yield path
    finally:
        subprocess.run(["umount", str(path)], check=True)


@contextmanager
def file_limit(size: int) -> Iterator[None]:
    """No file of this process may grow past this many bytes."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@contextmanager
def unprivileged() -> Iterator[Path]:
    """A folder that anyone may enter, while this process has no more rights than anyone."""
    place = Path(tempfile.mkdtemp(prefix="gloves-on-"))
    mine = os.geteuid()
    try:
        if mine == 0:
            os.chown(place, _NOBODY, _NOBODY)
            os.seteuid(_NOBODY)
        yield place
    finally:
        os.seteuid(mine)
        shutil.rmtree(place)
