"""Tables are read with their lines, and every row has its source."""

from __future__ import annotations

import pytest

from assistant import packaged
from assistant.errors import BadFile
from assistant.trade.tables import NAMES, load_tables

HEADER = {
    "battery_at_rest": "table,battery,percent,volts,unit,source,mark",
    "battery_charging": "battery,least,most,unit,source,mark",
    "brake_fluids": "grade,dry_boiling,wet_boiling,unit,base,color,mixes_with,source,mark",
    "grades": "standard,grade,over,up_to,size_unit,proof,yield,tensile,unit,marking,source,mark",
    "heads": "head,standard,thread,drive,size,unit,source,mark",
    "hexalobular": "drive,across_points,unit,source,mark",
    "nut_factors": "condition,low,factor,high,source,mark",
    "reductions": "reason,percent,source,mark",
    "stress_areas": "thread,area,unit,source,mark",
}


def test_all_tables_are_there() -> None:
    """None is empty."""
    tables = packaged.trade_tables()
    assert set(HEADER) == set(NAMES)
    for name in NAMES:
        assert len(getattr(tables, name)) >= 3


@pytest.mark.parametrize(
    ("name", "row", "said"),
    [
        (
            "heads",
            "hex,ISO 4014,M6,square,10,mm,ISO 4014,verified",
            "'square' is not a valid Drive",
        ),
        ("heads", "hex,ISO 4014,M6,external hex,ten,mm,ISO 4014,verified", '"ten" is not a number'),
        ("heads", "hex,ISO 4014,M6,external hex,10,mm,,verified", "names its source"),
        ("heads", "hex,ISO 4014,M6,external hex,10,mm,ISO 4014,sure", "verified or from memory"),
        ("stress_areas", "M6 × 1,20.1,acre,ISO 898-1,verified", '"acre" is not a unit'),
    ],
)
def test_a_bad_row_is_told_with_its_line(name: str, row: str, said: str) -> None:
    """The file, the line, and what is wrong in it."""
    texts = {n: header + "\n" for n, header in HEADER.items()}
    texts[name] += row + "\n"
    with pytest.raises(BadFile, match=said) as error:
        load_tables(texts)
    assert (error.value.findings[0].file, error.value.findings[0].line) == (f"{name}.csv", 2)
