"""Archives that `model get` is served by a local server: bombs, paths, links, damage, lies."""

from __future__ import annotations

import io
import random
import stat
import struct
import zipfile
from collections.abc import Callable, Iterator, Sequence
from functools import partial

Entry = tuple[str | zipfile.ZipInfo, bytes]


def made(entries: Sequence[Entry], how: int = zipfile.ZIP_DEFLATED) -> bytes:
    """A zip with these entries."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", how) as file:
        for name, content in entries:
            file.writestr(name, content)
    return out.getvalue()


def by_hand(entries: Sequence[Entry]) -> bytes:
    """A zip whose names the standard library would not write: they go in with a stand-in."""
    names = [
        (name, f"{number:03d}".ljust(len(str(name).encode()), "~"))
        for number, (name, _) in enumerate(entries)
    ]
    raw = made(
        [(stand_in, content) for (_, stand_in), (_, content) in zip(names, entries, strict=True)]
    )
    for name, stand_in in names:
        raw = raw.replace(stand_in.encode(), str(name).encode("utf-8", "surrogateescape"))
    return raw


def special(name: str, mode: int, content: bytes) -> Entry:
    """An entry with a file type of its own: a link, a device."""
    info = zipfile.ZipInfo(name)
    info.create_system = 3
    info.external_attr = (mode | 0o777) << 16
    return info, content


GOOD: list[Entry] = [
    ("top/am/final.mdl", random.Random(1).randbytes(50_000)),  # noqa: S311 - no secret
    ("top/README", b"made up\n"),
]
"""A zip of these passes; the large part leaves an attack room under what a zip may grow to."""


def _patched(raw: bytes, field: int, value: bytes) -> bytes:
    """The zip with a field of every entry of its central directory (and local header) overwritten.

    Args:
        raw: the zip.
        field: offset in the central directory's header (APPNOTE.TXT, 4.3.12); the local header's
            is two less.
        value: the new bytes.
    """
    out = bytearray(raw)
    for magic, offset in ((b"PK\x01\x02", field), (b"PK\x03\x04", field - 2)):
        at = -1
        while (at := raw.find(magic, at + 1)) >= 0:
            out[at + offset : at + offset + len(value)] = value
    return bytes(out)


def _directory(raw: bytes, field: int, value: bytes) -> bytes:
    """The zip with a field of its end record overwritten (APPNOTE.TXT, 4.3.16)."""
    at = raw.rfind(b"PK\x05\x06") + field
    return raw[:at] + value + raw[at + len(value) :]


def _overlapping(copies: int) -> bytes:
    """Many names for one deflated megabyte: their sum is large, the file is small."""
    raw = made([("top/000000", random.Random(1).randbytes(1 << 20))])  # noqa: S311 - no secret
    begin = raw.find(b"PK\x01\x02")
    end = raw.rfind(b"PK\x05\x06")
    one = raw[begin:end]
    many = b"".join(one.replace(b"top/000000", b"top/%06d" % n) for n in range(copies))
    count = struct.pack("<HHII", copies, copies, len(many), begin)
    return raw[:begin] + many + b"PK\x05\x06\0\0\0\0" + count + b"\0\0"


def _lzma_of_4_gib() -> bytes:
    """An LZMA entry whose header asks for a dictionary of 4 GiB."""
    raw = bytearray(made([("top/a", b"x" * 5000), *GOOD], zipfile.ZIP_LZMA))
    at = raw.find(b"top/a") + len("top/a") + 4 + 1  # version, size of properties, then lc/lp/pb
    raw[at : at + 4] = b"\xff\xff\xff\xff"
    return bytes(raw)


def _nested(depth: int) -> bytes:
    inner = bytes(1 << 20)
    for level in range(depth):
        inner = made([(f"top/level{level}.zip", inner)] * 1)
    return inner


def _damaged_stream() -> bytes:
    raw = made([("top/a", bytes(range(256)) * 40), *GOOD])
    at = raw.find(b"top/a") + 5
    return raw[:at] + b"\xff" * 40 + raw[at + 40 :]


def _cut_stream() -> bytes:
    """The deflate stream ends early: the size in the headers is the cut one's."""
    return _patched(made(GOOD), 20, struct.pack("<I", 5))


BOMBS: dict[str, Callable[[], bytes]] = {
    "200 MB of zeros in 200 kB": lambda: made([("top/zeros", bytes(200_000_000))]),
    "zips in zips, 6 deep": lambda: _nested(6),
    "50,000 entries": lambda: made([(f"top/{n}", b"") for n in range(50_000)], zipfile.ZIP_STORED),
    "one megabyte under 60,000 names": lambda: _overlapping(60_000),
    "LZMA with a dictionary of 4 GiB": _lzma_of_4_gib,
    "BZIP2": lambda: made([("top/a", bytes(900_000)), *GOOD], zipfile.ZIP_BZIP2),
    "declared size of 4 GiB": lambda: _patched(made(GOOD), 24, b"\xfe\xff\xff\xff"),
    "declared size of 0": lambda: _patched(made(GOOD), 24, bytes(4)),
    "packed size of 4 GiB": lambda: _patched(made(GOOD), 20, b"\xfe\xff\xff\xff"),
    "header offset far outside": lambda: _offset(made(GOOD)),
    "folders, 1,000 deep": lambda: made([*GOOD, ("top/" + "d/" * 1000 + "x", b"")]),
}


def _offset(raw: bytes) -> bytes:
    """Where the first entry begins is said to be far outside of the file."""
    at = raw.find(b"PK\x01\x02") + 42
    return raw[:at] + b"\xf0\xff\xff\x7f" + raw[at + 4 :]


_PATHS = [
    "../../../evil", "top/../../../../evil", "{outer}/evil", "//{outer}/evil", "top//{outer}/evil",
    "C:/evil", "C:evil", "top/C:/evil", "..\\..\\..\\evil", "top\\..\\..\\..\\evil",
    "\\\\server\\share\\evil", "top/file:stream", "top/con", "top/nul.txt", "top/trailing.",
    "top/\x1b[2Jevil", "top/\u202eevil", "top/a\nb", "./../evil", "top/./../../../evil", "~/evil",
    ".", "./x", "top/" + "n" * 300, "évil", "evil",
]  # fmt: skip


def paths(outer: str) -> Iterator[tuple[str, Callable[[], bytes]]]:
    """Zips with a name that leads outside, or that some system takes for something else."""
    for path in _PATHS:
        name = path.replace("{outer}", outer.strip("/") if path.startswith("//") else outer)
        shown = path.replace("{outer}", "").replace("n" * 300, "nnn…")
        yield shown.encode("unicode_escape").decode(), partial(made, [*GOOD, (name, b"evil")])
    yield "a name that is empty", lambda: _patched(made([("Q", b"evil")]), 28, b"\0\0\1\0")
    yield "a name with a NUL", lambda: by_hand([*GOOD, ("top/ok\0../../evil", b"evil")])
    yield "a name that is not UTF-8", _not_utf8


def _not_utf8() -> bytes:
    raw = made([*GOOD, ("top/évil", b"evil")])
    return raw.replace("é".encode(), b"\xff\xff")


LINKS: dict[str, Callable[[], bytes]] = {
    "a link to /etc": lambda: made([*GOOD, special("top/link", stat.S_IFLNK, b"/etc")]),
    "a link, then a file through it": lambda: made(
        [special("top/link", stat.S_IFLNK, b"../../.."), ("top/link/evil", b"evil"), *GOOD]
    ),
    "a link as the top folder": lambda: made([special("top", stat.S_IFLNK, b"/tmp"), *GOOD]),
    "a device": lambda: made([*GOOD, special("top/dev", stat.S_IFCHR, b"")]),
    "a pipe": lambda: made([*GOOD, special("top/pipe", stat.S_IFIFO, b"")]),
    "set-user-id": lambda: made(
        [*GOOD, special("top/run", stat.S_IFREG | stat.S_ISUID, b"#!/bin/sh")]
    ),
}
DAMAGE: dict[str, Callable[[], bytes]] = {
    "the same name twice": lambda: by_hand([*GOOD, ("top/README", b"other")]),
    "a file that is a folder too": lambda: made([*GOOD, ("top/README/x", b"")]),
    "names alike but for case": lambda: made([*GOOD, ("top/readme", b"")]),
    "encrypted": lambda: _patched(made(GOOD), 8, b"\x01\x00"),
    "a method that nobody has": lambda: _patched(made(GOOD), 10, b"\x63\x00"),
    "wrong checksum": lambda: _patched(made(GOOD), 16, b"\xde\xad\xbe\xef"),
    "damaged stream": _damaged_stream,
    "stream cut short": _cut_stream,
    "half of the file": lambda: made(GOOD)[: len(made(GOOD)) // 2],
    "only an end record": lambda: b"PK\x05\x06" + bytes(18),
    "no entries": lambda: made([]),
    "only folders": lambda: made([("top/", b""), ("top/am/", b"")]),
    "two top folders": lambda: made([*GOOD, ("other/x", b"")]),
    "directory said to be 4 GiB": lambda: _directory(made(GOOD), 12, b"\xff\xff\xff\x7f"),
    "not a zip": lambda: b"\x1f\x8b" + b"not a zip" * 100,
    "empty": lambda: b"",
    "random bytes": lambda: bytes((n * 167 + 13) & 0xFF for n in range(5000)),
}  # fmt: skip
