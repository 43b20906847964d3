"""Fetching a large file safely: resumed where it stopped, verified before anything reads it."""

from __future__ import annotations

import hashlib
import http.client
import lzma
import re
import shutil
import stat
import urllib.error
import urllib.request
import zipfile
import zlib
from collections.abc import Callable
from pathlib import Path, PurePosixPath
from time import monotonic
from typing import IO, Final

from assistant.errors import GlovesOnError

Progress = Callable[[int, int], None]
"""Called with the bytes here so far and the bytes there will be."""

_BLOCK: Final = 1 << 16
_TIMEOUT_S: Final = 30.0
_LEAST_RATE: Final = 4096
"""Bytes a second over the whole file: a server that trickles holds nobody up for ever."""
_LONGEST_REASON: Final = 200
_MOST_FILES: Final = 2_000
_MOST_TIMES_LARGER: Final = 20
"""Models shrink to about two thirds when zipped; a bomb grows a thousandfold."""
_METHODS: Final = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
"""An LZMA entry may ask for 4 GiB of memory before its first byte."""
_NAME: Final = re.compile(r"[A-Za-z0-9_](?:[A-Za-z0-9._+-]{0,98}[A-Za-z0-9_+-])?", re.ASCII)
"""A part of a path that is the same on every system: no drive, no stream, no trailing dot."""
# Names that Windows keeps for devices, from memory.
_DEVICE: Final = re.compile(r"(con|prn|aux|nul|com\d|lpt\d)(\..*)?", re.ASCII | re.IGNORECASE)
_DEEPEST: Final = 8
_BROKEN: Final = (
    zipfile.BadZipFile,
    zlib.error,
    lzma.LZMAError,
    EOFError,
    NotImplementedError,
    OSError,
    RuntimeError,
    ValueError,  # names that are not the text they are said to be
    IndexError,  # the standard library's own, for a name that is empty
)


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
    if not _safe_address(address):
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


def _safe_address(address: str) -> bool:
    return address.startswith(("https://", "http://127.0.0.1:"))


class _OnlySafely(urllib.request.HTTPRedirectHandler):
    """Goes where the server sends it, unless that is less safe than where it came from."""

    def redirect_request(  # noqa: PLR0913, PLR0917 - the base's own
        self,
        req: urllib.request.Request,
        fp: IO[bytes],
        code: int,
        msg: str,
        headers: http.client.HTTPMessage,
        newurl: str,
    ) -> urllib.request.Request | None:
        """The next request."""
        if not _safe_address(newurl):
            raise OSError(f"the server sends to {newurl[:_LONGEST_REASON]}, which is not https")
        return super().redirect_request(req, fp, code, msg, headers, newurl)


def _go_on(address: str, to: Path, here: int, size: int, progress: Progress) -> None:
    request = urllib.request.Request(address)  # noqa: S310 - the scheme was checked above
    if here:
        request.add_header("Range", f"bytes={here}-")
    end = monotonic() + _TIMEOUT_S + (size - here) / _LEAST_RATE
    opener = urllib.request.build_opener(_OnlySafely)
    with opener.open(request, timeout=_TIMEOUT_S) as answer:
        resumed = answer.status == http.client.PARTIAL_CONTENT and _begins_at(answer, here)
        if here and not resumed:
            here = 0  # this server sends the whole file whatever part was asked for
        with to.open("ab" if resumed else "wb") as out:
            progress(here, size)
            while block := answer.read1(_BLOCK):
                if monotonic() > end:
                    raise OSError("the server sends too slowly")
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
        f"{address} could not be fetched: {str(reason)[:_LONGEST_REASON]}. Try again, it goes on "
        f"from where it stopped; or fetch it by other means and put it at {to}"
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
    except _BROKEN as problem:
        shutil.rmtree(aside, ignore_errors=True)
        reason = str(problem)[:_LONGEST_REASON]
        raise DownloadFailed(f"{archive}: can't be unpacked: {reason}") from problem
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
    placed = [(entry, _place(archive, entry)) for entry in entries]
    if len({path.parts[0] for _, path in placed}) != 1:
        raise DownloadFailed(f"{archive}: has not exactly one top folder")
    if len({str(path).lower() for _, path in placed}) != len(placed):
        raise DownloadFailed(f"{archive}: holds two files of one name")
    return [(entry, PurePosixPath(*path.parts[1:])) for entry, path in placed]


def _place(archive: Path, entry: zipfile.ZipInfo) -> PurePosixPath:
    """Where an entry belongs, its top folder included; only plain names and plain files pass."""
    named = f"{archive}: {entry.filename[:_LONGEST_REASON]!a}"
    path = PurePosixPath(entry.filename.replace("\\", "/"))
    linked = stat.S_ISLNK(entry.external_attr >> 16)
    if path.is_absolute() or ".." in path.parts or ":" in str(path) or linked:
        raise DownloadFailed(f"{named} leads outside of its folder")
    if not all(_NAME.fullmatch(part) and not _DEVICE.fullmatch(part) for part in path.parts):
        raise DownloadFailed(f"{named} is no plain name: letters, figures, . _ + and - are")
    if not 2 <= len(path.parts) <= _DEEPEST:
        raise DownloadFailed(f"{named} lies outside of the top folder, or too deep in it")
    if entry.compress_type not in _METHODS:
        raise DownloadFailed(f"{named} is packed in a way that models are not (stored, deflated)")
    return path


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
