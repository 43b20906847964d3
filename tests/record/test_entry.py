"""Entries: canonical bytes against RFC 8785 and a second encoder; strict reading."""

from __future__ import annotations

import hashlib
import json
import math
import struct
from datetime import UTC, datetime, timedelta, timezone

import jcs  # type: ignore[import-untyped] # ships no types
import pytest
import rfc8785
from hypothesis import given
from hypothesis import strategies as st

from assistant.record.entry import (
    JSON,
    MAX_DEPTH,
    MAX_LINE,
    SAFE_INTEGER,
    Entry,
    NotAnEntry,
    canonical,
    genesis,
    make_entry,
    parse_line,
    walk,
    wall_text,
)
from tests.record.making import JOB, WALL

_TEXT = st.text(st.characters(exclude_categories=["Cs"]), max_size=20)
_SCALARS = (
    st.none()
    | st.booleans()
    | st.integers(-SAFE_INTEGER, SAFE_INTEGER)
    | st.floats(allow_nan=False, allow_infinity=False)
    | _TEXT
)
_JSON = st.recursive(
    _SCALARS, lambda deeper: st.lists(deeper) | st.dictionaries(_TEXT, deeper), max_leaves=20
)
_DATA = st.dictionaries(_TEXT, _JSON, max_size=5)


def _entry(data: dict[str, JSON], n: int = 0, mono: float = 1.5) -> Entry:
    return make_entry(n, "event", data, wall=WALL, mono=mono, prev=genesis(JOB))


def _line(**changed: object) -> bytes:
    """A line with fields exchanged and its hash made to fit, written canonically."""
    fields = json.loads(_entry({"a": 1}).line())
    fields.update(changed)
    bare = {key: value for key, value in fields.items() if key != "hash"}
    if "hash" not in changed:
        fields["hash"] = hashlib.sha256(rfc8785.dumps(bare)).hexdigest()
    return rfc8785.dumps(fields) + b"\n"


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (333333333.33333329, b"333333333.3333333"),
        (1e30, b"1e+30"),
        (4.50, b"4.5"),
        (2e-3, b"0.002"),
        (0.000000000000000000000000001, b"1e-27"),
        ([None, True, False], b"[null,true,false]"),
        ('\u20ac$\u000f\nA\'B"\\\\"/', '"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"'.encode()),
    ],
)
def test_canonical_example(value: object, expected: bytes) -> None:
    """The example of RFC 8785 section 3.2.2 comes out as printed there."""
    assert canonical(value) == expected


@pytest.mark.parametrize(
    ("bits", "expected"),
    [
        ("0000000000000000", b"0"),
        ("8000000000000000", b"0"),
        ("0000000000000001", b"5e-324"),
        ("7fefffffffffffff", b"1.7976931348623157e+308"),
        ("4340000000000000", b"9007199254740992"),
        ("4430000000000000", b"295147905179352830000"),
        ("44b52d02c7e14af5", b"9.999999999999997e+22"),
        ("44b52d02c7e14af6", b"1e+23"),
        ("444b1ae4d6e2ef4e", b"999999999999999700000"),
        ("444b1ae4d6e2ef50", b"1e+21"),
        ("3eb0c6f7a0b5ed8c", b"9.999999999999997e-7"),
        ("3eb0c6f7a0b5ed8d", b"0.000001"),
        ("41b3de4355555553", b"333333333.3333332"),
        ("41b3de4355555557", b"333333333.33333343"),
    ],
)
def test_canonical_numbers(bits: str, expected: bytes) -> None:
    """Numbers of RFC 8785 appendix B (from memory) come out as printed there."""
    (value,) = struct.unpack(">d", bytes.fromhex(bits))
    assert canonical(value) == expected


def test_canonical_sorting() -> None:
    """Keys sort by UTF-16 code units, as in the example of RFC 8785 section 3.2.3."""
    keys = ["\u20ac", "\r", "\ufb33", "1", "\U0001f600", "\u0080", "\u00f6"]
    ordered = ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]
    found = json.loads(canonical(dict.fromkeys(keys)), object_pairs_hook=list)
    assert [key for key, _ in found] == ordered


@given(_JSON)
def test_canonical_second_opinion(value: JSON) -> None:
    """The package jcs, another encoder of RFC 8785, writes the same bytes."""
    assert canonical(value) == jcs.canonicalize(value)


@given(_DATA, st.integers(0, SAFE_INTEGER), st.floats(0, 1e9))
def test_round_trip(data: dict[str, JSON], n: int, mono: float) -> None:
    """A line reads back as the entry that wrote it, and writes the same line again."""
    entry = _entry(data, n, mono)
    read = parse_line(entry.line())
    assert read == entry
    assert read.line() == entry.line()


@given(_DATA)
def test_line_and_hash(data: dict[str, JSON]) -> None:
    """The line is the canonical JSON of all fields, the hash that of all but the hash."""
    entry = _entry(data)
    fields = json.loads(entry.line())
    assert entry.line() == jcs.canonicalize(fields) + b"\n"
    stated = fields.pop("hash")
    assert hashlib.sha256(jcs.canonicalize(fields)).hexdigest() == stated == entry.hash


@given(_DATA, st.data())
def test_any_changed_byte_is_refused(data: dict[str, JSON], drawn: st.DataObject) -> None:
    """A line with one byte exchanged, dropped or added is never read as an entry."""
    line = _entry(data).line()
    at = drawn.draw(st.integers(0, len(line) - 1))
    byte = drawn.draw(st.integers(0, 255).filter(lambda value: value != line[at]))
    added = bytes([byte])
    exchanged = line[:at] + added + line[at + 1 :]
    for changed in (exchanged, line[:at] + line[at + 1 :], line[:at] + added + line[at:]):
        with pytest.raises(NotAnEntry):
            parse_line(changed)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        (b"", "torn"),
        (b"{}\n", "must hold exactly"),
        (b"[1]\n", "must hold exactly"),
        (b"nonsense\n", "not JSON"),
        (b"\xff\xfe\n", "not UTF-8 at byte 0"),
        (b'{"a":1,"a":2}\n', "one key twice"),
        (b'{"a":NaN}\n', "NaN is not"),
        (b'{"a":-Infinity}\n', "-Infinity is not"),
        (b'{"a":' + b"9" * 5000 + b"}\n", "more digits"),
        (b"[" * 100_000 + b"\n", "nested deeper"),
        (b'{"a":"' + b"x" * MAX_LINE + b'"}\n', "longer than"),
        (_line(n=-1), "n must be"),
        (_line(n=True), "n must be"),
        (_line(n="0"), "n must be"),
        (_line(n=0.5), "n must be"),
        (_line(kind=7), "kind and wall must be text"),
        (_line(kind=""), "kind must have"),
        (_line(kind="k" * 65), "kind must have"),
        (_line(wall="2026-01-02 03:04:05"), "wall must be"),
        (_line(wall="2026-02-30T03:04:05.678Z"), "wall must be"),
        (_line(wall="2026-01-02T03:04:05.678+01:00"), "wall must be"),
        (_line(mono="1"), "mono must be"),
        (_line(mono=False), "mono must be"),
        (_line(data=[]), "data must be"),
        (_line(prev=None), "prev and hash must be text"),
        (_line(prev="AB"), "prev must be"),
        (_line(hash="0" * 63), "hash must be"),
        (_line(hash="0" * 64), "was changed"),
        (_line(extra=1), "must hold exactly"),
        (_line().replace(b'"n":0', b'"n": 0'), "canonical form"),
        (_line().replace(b'{"a":1}', b'{"a":1.0}'), "canonical form"),
        (_line().replace(b'"mono":1.5', b'"mono":1.50'), "canonical form"),
        (_line().replace(b"event", b"\\u0065vent"), "canonical form"),
        (_line(mono=0).replace(b'"mono":0', b'"mono":-0'), "canonical form"),
        (_line()[:-1] + b"\r\n", "canonical form"),
    ],
)
def test_strict_reading(line: bytes, reason: str) -> None:
    """A line that is not exactly an entry is refused with the reason."""
    with pytest.raises(NotAnEntry, match=reason):
        parse_line(line)


@pytest.mark.parametrize(
    "data",
    [
        {"a": math.nan},
        {"a": math.inf},
        {"a": 2**53},
        {"a": "\ud800"},
        {"\ud800": 1},
        {"a": b"bytes"},
        {"a": {1: 2}},
        {"a": {1, 2}},
        {"a": datetime(2026, 1, 2, tzinfo=UTC)},
        {"a": "x" * MAX_LINE},
    ],
)
def test_unwritable_data(data: dict[str, JSON]) -> None:
    """What JSON can't carry exactly never becomes an entry."""
    with pytest.raises(NotAnEntry):
        _entry(data)


def test_depth_limit() -> None:
    """Data may be nested to the limit and no deeper, in memory and in a file."""
    value: JSON = 1
    for _ in range(MAX_DEPTH - 1):
        value = [value]
    assert parse_line(_entry({"a": value}).line()).data == {"a": value}
    with pytest.raises(NotAnEntry, match="deeper"):
        _entry({"a": [value]})
    with pytest.raises(NotAnEntry, match="deeper"):
        parse_line(_line(data={"a": [value]}))


def test_non_finite_clock() -> None:
    """A monotonic clock without a value is refused."""
    with pytest.raises(NotAnEntry):
        _entry({}, mono=math.nan)


def test_large_float_survives() -> None:
    """A float beyond the safe integers, which RFC 8785 writes without exponent, stays a float."""
    entry = parse_line(_entry({"a": 1e20}).line())
    assert entry.data == {"a": 1e20}
    assert isinstance(entry.data["a"], float)


def test_genesis_differs_by_job() -> None:
    """Two jobs never begin with the same hash."""
    assert genesis("a") != genesis("b")


def test_wall_text() -> None:
    """A moment of any zone is written in UTC with milliseconds (RFC 3339)."""
    seoul = timezone(timedelta(hours=9))
    assert wall_text(datetime(2026, 1, 2, 12, 4, 5, 678_900, seoul)) == WALL
    assert wall_text(datetime(2026, 1, 2, tzinfo=UTC)) == "2026-01-02T00:00:00.000Z"


def test_walk_finds_all_depths() -> None:
    """Every key of every mapping is met, inside lists too."""
    value = {"a": [{"b": 1}, [{"c": {"d": 2}}]]}
    assert {key for key, _ in walk(value)} == {"a", "b", "c", "d"}
