"""Found jobs as tables for other programs: CSV and Parquet."""

from __future__ import annotations

import csv
import os
from collections.abc import Sequence
from datetime import datetime
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final, TextIO

from assistant.errors import BadInput
from assistant.store.tables import JOB

_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
"""What spreadsheets take for the beginning of a formula (OWASP, "CSV Injection")."""
_HIDDEN: Final = ("size", "changed_ns")
COLUMNS: Final = tuple(column.name for column in JOB.columns if column.name not in _HIDDEN)
_TIMES: Final = ("began", "ended")


def write_csv(rows: Sequence[dict[str, Any]], to: TextIO) -> None:
    """Rows as CSV (RFC 4180) that no spreadsheet takes for a formula; every cell is quoted.

    Quoted, a cell can't be cut at a semicolon or tab into a second one that is a formula.
    """
    writer = csv.writer(to, quoting=csv.QUOTE_ALL)
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([_cell(row.get(name)) for name in COLUMNS])


def write_parquet(rows: Sequence[dict[str, Any]], path: Path) -> None:
    """Rows as a Parquet file; `began` and `ended` are times in UTC, all else is text.

    A file of this name is replaced, and only by a whole one.

    Raises:
        BadInput: the library is not installed, a time is none (the index was altered), or the
            file can't be written.
    """
    if find_spec("pyarrow") is None:
        raise BadInput("Parquet needs the extra part [export]: pip install gloves-on[export]")
    import pyarrow as pa  # noqa: PLC0415 - large, and may be missing
    import pyarrow.parquet as pq  # noqa: PLC0415 - as above

    moment = pa.timestamp("ms", tz="UTC")
    schema = pa.schema([(name, moment if name in _TIMES else pa.string()) for name in COLUMNS])
    table = pa.Table.from_pylist(
        [{name: _value(name, row.get(name)) for name in COLUMNS} for row in rows], schema
    )
    half = path.parent / f".{path.name}.{os.getpid()}.part"
    try:
        pq.write_table(table, half)
        half.replace(path)
    except OSError as error:
        half.unlink(missing_ok=True)
        raise BadInput(f"{path} can't be written: {error.strerror or error}") from error


def plain(text: str) -> str:
    """Without anything that a terminal would obey."""
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def _cell(value: object) -> str:
    text = "" if value is None else plain(str(value))
    return f"'{text}" if text.startswith(_FORMULA) else text


def _value(name: str, value: Any) -> Any:  # noqa: ANN401 - a column's own type
    if not value or name not in _TIMES:
        return value
    try:
        return datetime.fromisoformat(value)
    except ValueError as error:
        msg = f"{name} {plain(str(value))!r} is no time: the index was altered; build it anew"
        raise BadInput(msg) from error
