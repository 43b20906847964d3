"""One entry of a journal: its canonical bytes, its hash, and the strict way back.

An entry is one line: the canonical JSON (RFC 8785) of `data, hash, kind, mono, n, prev, wall`
and a newline. `hash` is the SHA-256 (FIPS 180-4) of the canonical JSON of the same object
without `hash`; `prev` is the hash of the entry before, so that a line can't be changed, moved,
dropped or added without breaking the chain.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import NoReturn, TypeAlias

import rfc8785

JSON: TypeAlias = "bool | int | float | str | list[JSON] | dict[str, JSON] | None"

MAX_LINE = 1 << 20
"""Longest line in bytes, newline included; our choice, far above any honest entry."""
MAX_DEPTH = 32
"""Deepest nesting of `data`; our choice."""
MAX_KIND = 64
"""Longest name of a kind, in characters; our choice."""
SAFE_INTEGER = 2**53 - 1
"""Largest integer that every JSON reader keeps exactly (RFC 7493 section 2.2)."""

_DOMAIN = b"gloves-on record 1\x00"
_KEYS = frozenset({"n", "kind", "wall", "mono", "data", "prev", "hash"})
_HEX = re.compile(r"[0-9a-f]{64}")
_WALL = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z", re.ASCII)


class NotAnEntry(ValueError):  # noqa: N818 - reads as what it is
    """A value or a line can't be an entry; the message is the reason, without its place."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a journal.

    Attributes:
        n: 0-based place; this, not a clock, is the order of events.
        kind: what the entry is about, in the caller's words.
        wall: RFC 3339 time in UTC with milliseconds, as the wall clock showed it, right or wrong.
        mono: seconds of a clock that never steps back while one process runs.
        data: the caller's facts as JSON; whole numbers come back as int (5.0 reads as 5).
        prev: hash of the entry before; for the first, `genesis(job)`.
        hash: hash of this entry, 64 lower-case hex digits.
    """

    n: int
    kind: str
    wall: str
    mono: float
    data: dict[str, JSON]
    prev: str
    hash: str

    def line(self) -> bytes:
        """The exact bytes of this entry in a journal file, newline included."""
        _, line = _encode(self)
        return line


def genesis(job: str) -> str:
    """The `prev` of the first entry: ties a journal to the id of its job."""
    return hashlib.sha256(_DOMAIN + job.encode()).hexdigest()


def wall_text(moment: datetime) -> str:
    """RFC 3339 in UTC with milliseconds, for example 2026-01-02T03:04:05.678Z."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def canonical(value: object) -> bytes:
    """Canonical JSON by RFC 8785.

    Raises:
        NotAnEntry: the value has no canonical form (NaN, lone surrogate, integer beyond 2^53 - 1,
            key that isn't text, type that JSON lacks).
    """
    try:
        return rfc8785.dumps(value)  # type: ignore[arg-type] # the library checks every value
    except (ValueError, RecursionError) as error:
        raise NotAnEntry(f"it can't be written as canonical JSON: {error}") from error


def make_entry(  # noqa: PLR0913 - the fields of an entry
    n: int, kind: str, data: Mapping[str, object], *, wall: str, mono: float, prev: str
) -> Entry:
    """Build the entry that will be written, with its hash.

    Raises:
        NotAnEntry: a field isn't what an entry may hold, or the line would be too long.
    """
    _check_depth(data)
    kept = _parse(canonical(dict(data)))
    if not isinstance(kept, dict):  # pragma: no cover - a mapping parses as a mapping
        raise NotAnEntry("data must be a mapping")
    bare = Entry(n, kind, wall, mono, kept, prev, "")
    _check_fields(bare)
    digest, line = _encode(bare)
    if len(line) > MAX_LINE:
        raise NotAnEntry(f"it is {len(line)} bytes long; at most {MAX_LINE} fit one entry")
    return Entry(n, kind, wall, float(mono), kept, prev, digest)


def parse_line(line: bytes) -> Entry:
    """Read one line strictly: only the exact bytes that `Entry.line` writes are accepted.

    Raises:
        NotAnEntry: says in plain words what is wrong with the line.
    """
    if len(line) > MAX_LINE:
        raise NotAnEntry(f"it is longer than {MAX_LINE} bytes")
    if not line.endswith(b"\n"):
        raise NotAnEntry("it is torn: the line has no end")
    found = _parse(line[:-1])
    if not isinstance(found, dict) or found.keys() != _KEYS:
        raise NotAnEntry(f"it must hold exactly {', '.join(sorted(_KEYS))}")
    entry = _typed(found)
    _check_depth(entry.data)
    _check_fields(entry)
    digest, expected = _encode(entry)
    if digest != entry.hash:
        raise NotAnEntry("it was changed: its hash doesn't match what it says")
    if expected != line:
        raise NotAnEntry("it is not written in canonical form (RFC 8785), so it was changed")
    return entry


def walk(value: object) -> Iterator[tuple[str, object]]:
    """Every (key, value) pair of every mapping inside a JSON value, at any depth."""
    waiting = [value]
    while waiting:
        here = waiting.pop()
        if isinstance(here, dict):
            yield from here.items()
            waiting.extend(here.values())
        elif isinstance(here, list):
            waiting.extend(here)


def is_digest(value: object) -> bool:
    """Whether this is a SHA-256 as the record writes it: 64 lower-case hex digits."""
    return isinstance(value, str) and _HEX.fullmatch(value) is not None


def _encode(entry: Entry) -> tuple[str, bytes]:
    """Hash and line of an entry, whatever its `hash` field says.

    "data" sorts before "hash" and "hash" before every other key, so one canonical encoding of
    the two sides gives both the hashed bytes and the line.
    """
    data = b'{"data":' + canonical(entry.data) + b","
    rest = canonical(
        {
            "kind": entry.kind,
            "mono": float(entry.mono),
            "n": entry.n,
            "prev": entry.prev,
            "wall": entry.wall,
        }
    )[1:]
    digest = hashlib.sha256(data + rest).hexdigest()
    return digest, data + b'"hash":"' + digest.encode() + b'",' + rest + b"\n"


def _typed(found: dict[str, JSON]) -> Entry:
    n, kind, wall = found["n"], found["kind"], found["wall"]
    mono, data = found["mono"], found["data"]
    prev, digest = found["prev"], found["hash"]
    if type(n) is not int or n < 0:
        raise NotAnEntry("n must be a whole number from 0 up")
    if not isinstance(kind, str) or not isinstance(wall, str):
        raise NotAnEntry("kind and wall must be text")
    if isinstance(mono, bool) or not isinstance(mono, int | float):
        raise NotAnEntry("mono must be a number of seconds")
    if not isinstance(data, dict):
        raise NotAnEntry("data must be a mapping")
    if not isinstance(prev, str) or not isinstance(digest, str):
        raise NotAnEntry("prev and hash must be text")
    if not is_digest(digest):
        raise NotAnEntry("hash must be 64 lower-case hex digits")
    return Entry(n, kind, wall, float(mono), data, prev, digest)


def _check_fields(entry: Entry) -> None:
    if not 0 < len(entry.kind) <= MAX_KIND:
        raise NotAnEntry(f"kind must have 1 to {MAX_KIND} characters")
    if not _is_wall(entry.wall):
        raise NotAnEntry("wall must be a UTC time like 2026-01-02T03:04:05.678Z (RFC 3339)")
    if not is_digest(entry.prev):
        raise NotAnEntry("prev must be 64 lower-case hex digits")


def _is_wall(text: str) -> bool:
    if _WALL.fullmatch(text) is None:
        return False
    try:
        datetime.fromisoformat(text)
    except ValueError:
        return False
    return True


def _check_depth(value: object) -> None:
    waiting: list[tuple[object, int]] = [(value, 1)]
    while waiting:
        here, depth = waiting.pop()
        if not isinstance(here, Mapping | list | tuple):
            continue
        if depth > MAX_DEPTH:
            raise NotAnEntry(f"it is nested deeper than {MAX_DEPTH} levels")
        inside = here.values() if isinstance(here, Mapping) else here
        waiting.extend((value, depth + 1) for value in inside)


def _parse(text: bytes) -> JSON:
    try:
        found: JSON = json.loads(
            text.decode("utf-8"),
            object_pairs_hook=_no_duplicates,
            parse_constant=_no_constant,
            parse_int=_integer,
        )
    except NotAnEntry:
        raise
    except UnicodeDecodeError as error:
        raise NotAnEntry(f"it is not UTF-8 at byte {error.start}") from error
    except RecursionError as error:
        raise NotAnEntry(f"it is nested deeper than {MAX_DEPTH} levels") from error
    except ValueError as error:
        raise NotAnEntry(f"it is not JSON: {error}") from error
    return found


def _no_duplicates(pairs: list[tuple[str, JSON]]) -> dict[str, JSON]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise NotAnEntry("it says one key twice")
    return found


def _no_constant(name: str) -> NoReturn:
    raise NotAnEntry(f"{name} is not a JSON number")


def _integer(text: str) -> int | float:
    """Whole numbers that only a float can hold stay floats, as RFC 8785 wrote them."""
    if len(text) > 25:  # the longest canonical integer has 21 digits and a sign
        raise NotAnEntry("it holds a number with more digits than JSON numbers keep")
    number = int(text)
    return number if abs(number) <= SAFE_INTEGER else float(number)
