"""Bytes that are on the disk when a call returns.

The one place that talks to the operating system about durability. A test hands the journal a
`Disk` of its own that fails on purpose.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

_EXTRA = getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_CLOEXEC", 0)


class Disk:
    """Real system calls; every method raises OSError when the system refuses."""

    def open_new(self, path: Path) -> int:
        """Create a file for appending; an existing one is never touched."""
        flags = os.O_WRONLY | os.O_APPEND | os.O_CREAT | os.O_EXCL | _EXTRA
        return os.open(path, flags, 0o666)

    def open_append(self, path: Path) -> int:
        """Open an existing file for appending; a symbolic link is refused where the OS can."""
        return os.open(path, os.O_WRONLY | os.O_APPEND | _EXTRA)

    def write(self, fd: int, data: bytes) -> None:
        """Write all the bytes; what a short write leaves over is written again."""
        rest = memoryview(data)
        while rest:
            rest = rest[os.write(fd, rest) :]

    def truncate(self, fd: int, size: int) -> None:
        """Cut the file to this many bytes."""
        os.ftruncate(fd, size)

    def sync(self, fd: int) -> None:
        """Return only when the file's bytes and size are on the disk."""
        if sys.platform == "darwin":  # fsync there leaves the bytes in the drive's own cache
            import fcntl  # noqa: PLC0415 - absent on Windows

            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
        else:
            os.fsync(fd)

    def sync_folder(self, folder: Path) -> None:
        """Make the names in a folder durable; Windows does this by itself and can't be asked."""
        if os.name == "nt":
            return
        fd = os.open(folder, os.O_RDONLY | getattr(os, "O_DIRECTORY", 0))
        try:
            os.fsync(fd)
        finally:
            os.close(fd)


def write_new(path: Path, data: bytes, disk: Disk | None = None) -> None:
    """Write a whole new file durably; on failure nothing half-written is left if it can be helped.

    Raises:
        FileExistsError: there is a file of this name; it is left as it is.
        OSError: the system refuses (full, read-only, gone).
    """
    disk = disk or Disk()
    fd = disk.open_new(path)
    try:
        try:
            disk.write(fd, data)
            disk.sync(fd)
        finally:
            os.close(fd)
        disk.sync_folder(path.parent)
    except OSError:
        path.unlink(missing_ok=True)
        raise
