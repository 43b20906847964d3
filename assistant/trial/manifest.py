"""The list of labelled audio that a trial goes through.

A CSV file in UTF-8 with a header line. Columns:

    file        path of the clip, from the folder of the manifest; any format libsndfile reads
    kind        command, reading: must be understood as its transcript;
                speech, noise: nothing of it may be accepted;
                fragment: a piece of an utterance, left out
    transcript  the words; needed for command and reading
    speaker     any label; clips of one label are heard one after the other by one ear
    snr_db      speech over the noise that is in the clip already; empty when it is clean
    noise       (optional) name of the noise that is in the clip already
    take        (optional) "enroll" for a take that its speaker is enrolled with: it is not heard
                itself; "test" or nothing for the others

Other columns are not used.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from assistant.errors import BadFile, Finding

NEEDED: Final = ("file", "kind", "transcript", "speaker", "snr_db")
COLUMNS: Final = (*NEEDED, "noise", "take")
SPOKEN: Final = ("command", "reading")
UNRELATED: Final = ("speech", "noise")
LEFT_OUT: Final = "fragment"
ENROLL: Final = "enroll"
_TAKES: Final = ("", "test", ENROLL)
_KINDS: Final = (*SPOKEN, *UNRELATED, LEFT_OUT)

MAX_BYTES: Final = 64 * 1024 * 1024
"""Longest manifest that is read; our choice, some hundred thousand rows."""
LEAST_DB: Final = -40.0
MOST_DB: Final = 100.0


@dataclass(frozen=True, slots=True)
class Row:
    """One clip of a manifest.

    Attributes:
        file: where the clip is.
        kind: command, reading, speech or noise.
        transcript: the words, "" where none are known.
        speaker: a label, "" where nobody is known.
        snr_db: speech over the noise in the clip, None for a clean one.
        noise: name of the noise in the clip, "" for none or an unnamed one.
        where: "file:line" for messages.
        enroll: whether it is a take that its speaker is enrolled with.
    """

    file: Path
    kind: str
    transcript: str
    speaker: str
    snr_db: float | None = None
    noise: str = ""
    where: str = ""
    enroll: bool = False

    @property
    def spoken(self) -> bool:
        """Whether it must be understood."""
        return self.kind in SPOKEN


def read_manifest(path: Path) -> tuple[Row, ...]:
    """The rows of a manifest, without fragments.

    Raises:
        BadFile: it can't be read, a column is missing, or rows are wrong; all of them are named.
    """
    given = str(path)
    reader = csv.reader(_text(path).splitlines(), strict=True)
    findings: list[Finding] = []
    rows: list[Row] = []
    try:
        header = [cell.strip() for cell in next(reader, [])]
        findings += _wrong_header(header, given)
        if findings:
            raise BadFile(tuple(findings))
        for cells in reader:
            line = reader.line_num
            if not any(cell.strip() for cell in cells):
                continue
            if len(cells) != len(header):
                message = f"{len(cells)} cells under {len(header)} columns"
                findings.append(_wrong(given, line, "cells", message))
                continue
            named = dict(zip(header, (cell.strip() for cell in cells), strict=True))
            wrong = [_wrong(given, line, code, text) for code, text in _problems(named, path)]
            findings += wrong
            if not wrong and named["kind"] != LEFT_OUT:
                rows.append(_row(named, path, f"{given}:{line}"))
    except csv.Error as problem:
        findings.append(_wrong(given, reader.line_num, "csv", f"not CSV: {problem}"))
    if not findings and not rows:
        findings.append(_wrong(given, 0, "empty", "holds no clip to be heard"))
    if findings:
        raise BadFile(tuple(findings))
    return tuple(rows)


def _text(path: Path) -> str:
    try:
        # A device never ends, a pipe may never begin; only a file is opened.
        if path.exists() and not path.is_file():
            raise BadFile((_wrong(str(path), 0, "not-a-file", "is not a file; give a .csv file"),))
        if path.exists() and path.stat().st_size > MAX_BYTES:
            message = f"is over {MAX_BYTES:,} bytes long; a manifest is shorter"
            raise BadFile((_wrong(str(path), 0, "too-big", message),))
        return path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as problem:
        message = f"byte {problem.start} is not UTF-8; save the file as UTF-8"
        raise BadFile((_wrong(str(path), 0, "not-utf-8", message),)) from problem
    except (OSError, ValueError) as problem:  # ValueError: a name that no file can have
        reason = (getattr(problem, "strerror", None) or str(problem)).lower()
        raise BadFile(
            (_wrong(str(path), 0, "unreadable", f"can't be read: {reason}"),)
        ) from problem


def _wrong(file: str, line: int, code: str, message: str) -> Finding:
    return Finding("error", code, file, line, message)


def _wrong_header(header: Sequence[str], given: str) -> Iterator[Finding]:
    if missing := [name for name in NEEDED if name not in header]:
        message = f"no column {', '.join(missing)}; wanted: {', '.join(COLUMNS)}"
        yield _wrong(given, 1, "columns", message)
    if twice := sorted({name for name in header if name and header.count(name) > 1}):
        yield _wrong(given, 1, "columns", f"the column {', '.join(twice)} stands twice")


def _problems(named: Mapping[str, str], manifest: Path) -> Iterator[tuple[str, str]]:
    """What is wrong with a row: code and message."""
    kind = named["kind"]
    if kind not in _KINDS:
        yield "kind", f'"{kind}" is no kind; one of: {", ".join(_KINDS)}'
    if kind in SPOKEN and not named["transcript"]:
        yield "transcript", f"a {kind} needs its transcript: the words that are said"
    yield from _wrong_take(named)
    if not named["file"]:
        yield "file", "no file is named"
    elif not (manifest.parent / named["file"]).is_file():
        yield "file", f"there is no file {manifest.parent / named['file']}"
    if named["snr_db"] and _decibels(named["snr_db"]) is None:
        wanted = f"a number from {LEAST_DB:.0f} to {MOST_DB:.0f}, or nothing for a clean clip"
        yield "snr_db", f'"{named["snr_db"]}" is no ratio in dB; {wanted}'


def _wrong_take(named: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    take = named.get("take", "")
    if take not in _TAKES:
        yield "take", f'"{take}" is no take; "enroll", "test" or nothing'
    elif take == ENROLL and (named["kind"] != "command" or not named["speaker"]):
        yield "take", "a take to be enrolled is a command, and has a speaker"


def _decibels(text: str) -> float | None:
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and LEAST_DB <= value <= MOST_DB else None


def _row(named: Mapping[str, str], manifest: Path, where: str) -> Row:
    return Row(
        file=manifest.parent / named["file"],
        kind=named["kind"],
        transcript=named["transcript"],
        speaker=named["speaker"],
        snr_db=_decibels(named["snr_db"]) if named["snr_db"] else None,
        noise=named.get("noise", ""),
        where=where,
        enroll=named.get("take", "") == ENROLL,
    )


def spread(rows: Sequence[Row], limit: int | None) -> tuple[Row, ...]:
    """At most so many rows of each kind, evenly spread over the manifest."""
    if limit is None:
        return tuple(rows)
    kept: set[int] = set()
    for kind in (*SPOKEN, *UNRELATED):
        places = [at for at, row in enumerate(rows) if row.kind == kind]
        count = min(limit, len(places))
        kept.update(places[number * len(places) // count] for number in range(count))
    return tuple(row for at, row in enumerate(rows) if at in kept)
