"""The trade's tables, read once from texts that the edge hands in.

Every row of every table names its source and its mark: "verified" was seen in published text,
"from memory" is believed right and never decides alone. The maker's value always wins: a
table tells whether a value is plausible, it never fills in one that is missing.
"""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Final, TypeVar

from assistant.errors import BadFile, Finding
from assistant.trade.battery import RestPoint, Window
from assistant.trade.drivers import Drive
from assistant.trade.fluids import BrakeFluid
from assistant.trade.grades import Grade
from assistant.trade.heads import Head
from assistant.trade.quantity import Quantity, parse_number
from assistant.trade.torque import NutFactor, Reduction
from assistant.trade.units import any_unit

_Row = TypeVar("_Row")
NAMES: Final = (
    "battery_at_rest", "battery_charging", "brake_fluids", "grades", "heads", "hexalobular",
    "nut_factors", "reductions", "stress_areas",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Tables:
    """All tables, as values with units.

    Attributes:
        stress_areas: as printed, by the thread's designation.
        hexalobular: point-to-point diameter by drive number.
        reductions: what is taken off a torque for dry steel, by reason.
    """

    stress_areas: Mapping[str, Quantity]
    grades: tuple[Grade, ...]
    heads: tuple[Head, ...]
    hexalobular: Mapping[int, Quantity]
    nut_factors: Mapping[str, NutFactor]
    reductions: Mapping[str, Reduction]
    brake_fluids: tuple[BrakeFluid, ...]
    battery_at_rest: tuple[RestPoint, ...]
    battery_charging: tuple[Window, ...]


def load_tables(texts: Mapping[str, str]) -> Tables:
    """Read all tables.

    Args:
        texts: CSV texts by the names in `NAMES`.

    Raises:
        BadFile: a cell can't be read; says file, line and what is wrong.
    """

    def table(name: str, read: Callable[[dict[str, str]], _Row]) -> tuple[_Row, ...]:
        return tuple(_rows(f"{name}.csv", texts[name], read))

    return Tables(
        stress_areas=dict(table("stress_areas", lambda r: (r["thread"], _value(r, "area")))),
        grades=table("grades", _grade),
        heads=table("heads", _head),
        hexalobular=dict(
            table("hexalobular", lambda r: (int(r["drive"]), _value(r, "across_points")))
        ),
        nut_factors=dict(table("nut_factors", lambda r: (r["condition"], _nut_factor(r)))),
        reductions=dict(table("reductions", lambda r: (r["reason"], _reduction(r)))),
        brake_fluids=table("brake_fluids", _brake_fluid),
        battery_at_rest=table("battery_at_rest", _rest_point),
        battery_charging=table("battery_charging", _window),
    )


def _rows(file: str, text: str, read: Callable[[dict[str, str]], _Row]) -> Iterator[_Row]:
    lines = csv.DictReader(text.splitlines(), strict=True)
    for row in lines:
        try:
            if not row["source"] or row["mark"] not in {"verified", "from memory"}:
                msg = "a row names its source, and is marked verified or from memory"
                raise ValueError(msg)  # noqa: TRY301 - told with its line below
            yield read(row)
        except (ValueError, KeyError) as error:
            finding = Finding("error", "bad-row", file, lines.line_num, str(error))
            raise BadFile((finding,)) from error


def _value(row: dict[str, str], column: str, unit: str = "unit") -> Quantity:
    return Quantity(parse_number(row[column]), any_unit(row[unit]))


def _if_given(row: dict[str, str], column: str, unit: str = "unit") -> Quantity | None:
    return _value(row, column, unit) if row[column] else None


def _grade(row: dict[str, str]) -> Grade:
    return Grade(
        standard=row["standard"],
        name=row["grade"],
        over=_if_given(row, "over", "size_unit"),
        up_to=_if_given(row, "up_to", "size_unit"),
        proof=_if_given(row, "proof"),
        yields=_value(row, "yield"),
        tensile=_value(row, "tensile"),
        marking=row["marking"],
        source=row["source"],
        verified=row["mark"] == "verified",
    )


def _head(row: dict[str, str]) -> Head:
    drive = Drive(row["drive"])
    numbered = drive is Drive.HEXALOBULAR
    return Head(
        head=row["head"],
        standard=row["standard"],
        thread=row["thread"],
        drive=drive,
        size=None if numbered else _value(row, "size"),
        number=int(row["size"]) if numbered else None,
        source=row["source"],
        verified=row["mark"] == "verified",
    )


def _nut_factor(row: dict[str, str]) -> NutFactor:
    low, factor, high = (parse_number(row[name]) for name in ("low", "factor", "high"))
    return NutFactor(row["condition"], low, factor, high, row["source"], row["mark"] == "verified")


def _reduction(row: dict[str, str]) -> Reduction:
    share = parse_number(row["percent"]) / 100
    return Reduction(row["reason"], share, row["source"], row["mark"] == "verified")


def _brake_fluid(row: dict[str, str]) -> BrakeFluid:
    return BrakeFluid(
        grade=row["grade"],
        dry_boiling=_if_given(row, "dry_boiling"),
        wet_boiling=_if_given(row, "wet_boiling"),
        base=row["base"],
        color=row["color"],
        mixes_with=tuple(one.strip() for one in row["mixes_with"].split(";") if one.strip()),
        source=row["source"],
    )


def _rest_point(row: dict[str, str]) -> RestPoint:
    return RestPoint(
        row["table"],
        row["battery"],
        parse_number(row["percent"]),
        _value(row, "volts"),
        row["mark"] == "verified",
    )


def _window(row: dict[str, str]) -> Window:
    return Window(row["battery"], _value(row, "least"), _value(row, "most"))
