"""Free play by the lever law and the screw's pitch."""

from __future__ import annotations

import pytest

from assistant.trade.levers import adjuster_turns, play_at
from assistant.trade.quantity import Quantity
from assistant.trade.threads import Thread

Q = Quantity.parse


def test_play_grows_with_the_distance_from_the_pivot() -> None:
    """Lever law: 3 mm at 40 mm is 12 mm at 160 mm; 1/8 in at the pivot's 30 mm is 1/2 in at 120."""
    assert play_at(Q("3 mm"), Q("40 mm"), Q("160 mm")) == Q("12 mm")
    assert play_at(Q("1/8 in"), Q("30 mm"), Q("120 mm")) == Q("1/2 in")


def test_the_turns_of_an_adjuster() -> None:
    """M8 × 1.25: from 5 mm to 2.5 mm at the cable's own distance is two turns out."""
    m8 = Thread.parse("M8 × 1.25")
    assert adjuster_turns(Q("5 mm"), Q("2.5 mm"), m8, Q("40 mm"), Q("40 mm")) == Q("2 turn")
    # measured at twice the cable's distance it is half as much at the cable
    assert adjuster_turns(Q("5 mm"), Q("2.5 mm"), m8, Q("40 mm"), Q("80 mm")) == Q("1 turn")
    assert adjuster_turns(Q("0 mm"), Q("2.5 mm"), m8, Q("40 mm"), Q("40 mm")) == Q("-2 turn")


@pytest.mark.parametrize(
    ("play", "here", "there"), [("3 mm", "0 mm", "1 mm"), ("3 V", "1 mm", "1 mm")]
)
def test_what_can_not_be_is_refused(play: str, here: str, there: str) -> None:
    """No distance, or no length."""
    with pytest.raises(ValueError, match=r"above zero|no length"):
        play_at(Q(play), Q(here), Q(there))
