"""Which driver fits which head, with the exact play in mm."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assistant.trade.drivers import Drive, Driver, Fit, driver_in, fit, play
from assistant.trade.quantity import Quantity

WORDS = {
    "socket": Drive.EXTERNAL_HEX,
    "wrench": Drive.EXTERNAL_HEX,
    "crowfoot": Drive.EXTERNAL_HEX,
    "hex key": Drive.INTERNAL_HEX,
    "hex socket bit": Drive.INTERNAL_HEX,
    "cross bit": Drive.CROSS,
}

# Exact by 1 in = 25.4 mm (NIST SP 811). Pairs that nearly fit and pairs that damage heads are
# those that the trade names; the figures are arithmetic.
NEAR = [
    ("9/16 in", "14 mm", Drive.EXTERNAL_HEX, "0.2875", Fit.NEAR),
    ("7/16 in", "11 mm", Drive.EXTERNAL_HEX, "0.1125", Fit.NEAR),
    ("3/4 in", "19 mm", Drive.EXTERNAL_HEX, "0.05", Fit.NEAR),
    ("13 mm", "1/2 in", Drive.EXTERNAL_HEX, "0.3", Fit.NEAR),
    ("8 mm", "5/16 in", Drive.EXTERNAL_HEX, "0.0625", Fit.NEAR),
    ("5/16 in", "8 mm", Drive.EXTERNAL_HEX, "-0.0625", Fit.NEAR),
    ("1/2 in", "13 mm", Drive.EXTERNAL_HEX, "-0.3", Fit.NOT_ON),
    ("14 mm", "9/16 in", Drive.EXTERNAL_HEX, "-0.2875", Fit.NOT_ON),
    ("10 mm", "3/8 in", Drive.EXTERNAL_HEX, "0.475", Fit.LOOSE),
    ("5/32 in", "4 mm", Drive.INTERNAL_HEX, "0.03125", Fit.NEAR),
    ("4 mm", "5/32 in", Drive.INTERNAL_HEX, "-0.03125", Fit.NEAR),
    ("3/16 in", "5 mm", Drive.INTERNAL_HEX, "0.2375", Fit.LOOSE),
    ("5 mm", "3/16 in", Drive.INTERNAL_HEX, "-0.2375", Fit.NOT_ON),
    ("6 mm", "6 mm", Drive.INTERNAL_HEX, "0", Fit.FITS),
]


@pytest.mark.parametrize(("driver", "head", "drive", "gap", "expected"), NEAR)
def test_play_is_exact(driver: str, head: str, drive: Drive, gap: str, expected: Fit) -> None:
    """To the last figure, and what it means for the head."""
    tool, sits_on = Quantity.parse(driver), Quantity.parse(head)
    assert play(tool, sits_on, drive).value == Quantity.parse(f"{gap} mm").value * 1
    assert fit(Driver(drive, tool), Driver(drive, sits_on)) is expected


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("6 mm hex key", Driver(Drive.INTERNAL_HEX, Quantity.parse("6 mm"))),
        ("9/16 in socket", Driver(Drive.EXTERNAL_HEX, Quantity.parse("9/16 in"))),
        ("1 1/16 in wrench", Driver(Drive.EXTERNAL_HEX, Quantity.parse("1 1/16 in"))),
        ("5.5 mm socket", Driver(Drive.EXTERNAL_HEX, Quantity.parse("5.5 mm"))),
        ("T27", Driver(Drive.HEXALOBULAR, number=27)),
        ("T27 socket, long", Driver(Drive.HEXALOBULAR, number=27)),
        (
            "torque wrench with 14 mm crowfoot, square to the handle",
            Driver(Drive.EXTERNAL_HEX, Quantity.parse("14 mm")),
        ),
        ("5 mm hex socket bit", Driver(Drive.INTERNAL_HEX, Quantity.parse("5 mm"))),
        ("cross bit", Driver(Drive.CROSS)),
        ("#2 cross bit", Driver(Drive.CROSS)),
        ("0 mm socket", None),
        ("voltmeter", None),
        ("wrench", None),
        ("10 mm drift", None),
        ("3/8 in drive ratchet", None),
        ("", None),
    ],
)
def test_a_driver_is_read_as_it_is_written(text: str, named: Driver | None) -> None:
    """What is not a known driver with its size is none."""
    assert driver_in(text, WORDS) == named


def test_other_kinds_do_not_fit() -> None:
    """A socket on a button head, and one hexalobular drive in another."""
    key, socket = (
        Driver(d, Quantity.parse("5 mm")) for d in (Drive.INTERNAL_HEX, Drive.EXTERNAL_HEX)
    )
    assert fit(socket, key) is Fit.OTHER_KIND
    t25, t27 = (Driver(Drive.HEXALOBULAR, number=n) for n in (25, 27))
    assert [fit(t25, t27), fit(t27, t25), fit(t27, t27)] == [Fit.LOOSE, Fit.NOT_ON, Fit.FITS]
    assert fit(Driver(Drive.CROSS), Driver(Drive.CROSS)) is Fit.FITS


def test_a19_the_next_size_of_socket() -> None:
    """14 mm on a 13 mm head: 1 mm of play, it slips round."""
    thirteen, fourteen = (
        Driver(Drive.EXTERNAL_HEX, Quantity.parse(size)) for size in ("13 mm", "14 mm")
    )
    assert fit(fourteen, thirteen) is Fit.LOOSE
    assert fit(thirteen, fourteen) is Fit.NOT_ON


@given(st.text(max_size=40))
def test_any_text_is_a_driver_or_none(text: str) -> None:
    """Nothing is ever raised."""
    assert driver_in(text, WORDS) is None or isinstance(driver_in(text, WORDS), Driver)
