"""Fetching a large file safely: resumed where it stopped, verified before anything reads it."""

from __future__ import annotations

import hashlib
import http.client
import shutil
import stat
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable
from pathlib import Path, PurePosixPath
from typing import Final

from assistant.errors import GlovesOnError

Progress = Callable[[int, int], None]
"""Called with the bytes here so far and the bytes there will be."""

_BLOCK: Final = 1 << 16
_TIMEOUT_S: Final = 30.0
_MOST_FILES: Final = 2_000
_MOST_TIMES_LARGER: Final = 20
"""Models shrink to about two thirds when zipped; a bomb grows a thousandfold."""


class DownloadFailed(GlovesOnError):  # noqa: N818 - reads as what it is
    """The file could not be fetched, or isn't the one that was promised; says what to do."""


def no_progress(_done: int, _total: int) -> None:
    """For callers that don't show any."""


def fetch(address: str, to: Path, size: int, sha256: str, progress: Progress = no_progress) -> None:
    """Fetch a file of known size and digest; what is already in `to` is not fetched again.

    A part that was fetched stays when the connection breaks, and the next call goes on from there.
    A file of the wrong size or digest is removed.

    Raises:
        DownloadFailed: no connection, the server refuses, or the file is another one.
    """
    if not address.startswith(("https://", "http://127.0.0.1:")):
        raise DownloadFailed(f"{address}: models are fetched over https only")
    here = to.stat().st_size if to.exists() else 0
    if here > size:
        to.unlink()
        here = 0
    if here < size:
        try:
            _go_on(address, to, here, size, progress)
        except (OSError, http.client.HTTPException) as problem:
            raise DownloadFailed(_explain(address, to, problem)) from problem
    _verify(address, to, size, sha256)


def _go_on(address: str, to: Path, here: int, size: int, progress: Progress) -> None:
    request = urllib.request.Request(address)  # noqa: S310 - the scheme was checked above
    if here:
        request.add_header("Range", f"bytes={here}-")
    with urllib.request.urlopen(request, timeout=_TIMEOUT_S) as answer:  # noqa: S310
        resumed = answer.status == http.client.PARTIAL_CONTENT and _begins_at(answer, here)
        if here and not resumed:
            here = 0  # this server sends the whole file whatever part was asked for
        with to.open("ab" if resumed else "wb") as out:
            progress(here, size)
            while block := answer.read(_BLOCK):
                here += len(block)
                if here > size:
                    raise OSError(f"the server sends more than the {size} bytes promised")
                out.write(block)
                progress(here, size)


def _begins_at(answer: http.client.HTTPResponse, here: int) -> bool:
    return (answer.headers.get("Content-Range") or "").startswith(f"bytes {here}-")


def _explain(address: str, to: Path, problem: Exception) -> str:
    reason = problem.reason if isinstance(problem, urllib.error.URLError) else problem
    if isinstance(problem, urllib.error.HTTPError):
        reason = f"the server answers {problem.code} {problem.reason}"
    return (
        f"{address} could not be fetched: {reason}. Try again, it goes on from where it stopped; "
        f"or fetch it by other means and put it at {to}"
    )


def _verify(address: str, path: Path, size: int, sha256: str) -> None:
    here = path.stat().st_size
    if here < size:
        raise DownloadFailed(
            f"{address}: the connection ended after {here} of {size} bytes; try again, it goes on "
            "from where it stopped"
        )
    digest = hashlib.sha256()
    with path.open("rb") as file:
        while block := file.read(_BLOCK):
            digest.update(block)
    if digest.hexdigest() != sha256:
        path.unlink()
        raise DownloadFailed(
            f"{address}: SHA-256 is {digest.hexdigest()}, it must be {sha256}; this is not the "
            "model that was promised, so it was removed and nothing was unpacked"
        )


def unpack(archive: Path, into: Path, most_bytes: int) -> None:
    """Unpack a zip whose files lie in one top folder; that folder becomes `into`.

    It is unpacked beside its place and renamed, so that `into` is there wholly or not at all.

    Raises:
        DownloadFailed: it is no zip, holds paths that lead outside or links, or would grow beyond
            `most_bytes`.
    """
    aside = into.with_name(into.name + ".unpacking")
    shutil.rmtree(aside, ignore_errors=True)
    try:
        with zipfile.ZipFile(archive) as file:
            entries = _safe_entries(archive, file, most_bytes)
            for entry, place in entries:
                _write(file, entry, aside / place)
    except (zipfile.BadZipFile, NotImplementedError, OSError, RuntimeError) as problem:
        shutil.rmtree(aside, ignore_errors=True)
        raise DownloadFailed(f"{archive}: can't be unpacked: {problem}") from problem
    except DownloadFailed:
        shutil.rmtree(aside, ignore_errors=True)
        raise
    aside.rename(into)


def _safe_entries(
    archive: Path, file: zipfile.ZipFile, most_bytes: int
) -> list[tuple[zipfile.ZipInfo, PurePosixPath]]:
    entries = [entry for entry in file.infolist() if not entry.is_dir()]
    if len(entries) > _MOST_FILES:
        raise DownloadFailed(f"{archive}: holds {len(entries)} files, far more than a model has")
    grown = sum(entry.file_size for entry in entries)
    if grown > most_bytes:
        raise DownloadFailed(f"{archive}: would grow to {grown} bytes, more than {most_bytes}")
    placed = []
    for entry in entries:
        path = PurePosixPath(entry.filename.replace("\\", "/"))
        linked = stat.S_ISLNK(entry.external_attr >> 16)
        if path.is_absolute() or ".." in path.parts or ":" in path.parts[0] or linked:
            raise DownloadFailed(f"{archive}: {entry.filename!r} leads outside of its folder")
        if len(path.parts) < 2:
            raise DownloadFailed(f"{archive}: {entry.filename!r} lies outside of the top folder")
        placed.append((entry, PurePosixPath(*path.parts[1:])))
    if len({entry.filename.split("/")[0] for entry, _ in placed}) != 1:
        raise DownloadFailed(f"{archive}: has not exactly one top folder")
    return placed


def _write(file: zipfile.ZipFile, entry: zipfile.ZipInfo, to: Path) -> None:
    """Write one file, never more than the archive says that it holds."""
    to.parent.mkdir(parents=True, exist_ok=True)
    left = entry.file_size
    with file.open(entry) as source, to.open("xb") as out:
        while block := source.read(min(_BLOCK, left + 1)):
            left -= len(block)
            if left < 0:
                raise OSError(f"{entry.filename} is larger than the archive says")
            out.write(block)


def largest(size: int) -> int:
    """How large a model's zip of this size may grow."""
    return size * _MOST_TIMES_LARGER
