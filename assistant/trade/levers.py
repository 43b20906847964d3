"""Free play of a lever and its cable: where it is measured, and what the adjuster does."""

from __future__ import annotations

from typing import Final

from assistant.trade.quantity import Quantity, unit_named
from assistant.trade.threads import Thread

_MM: Final = unit_named("mm")
_TURN: Final = unit_named("turn")


def play_at(play: Quantity, measured_at: Quantity, wanted_at: Quantity) -> Quantity:
    """Free play at another distance from the pivot, in the unit of `play`.

    A lever turns about its pivot, so play grows with the distance: 3 mm at 40 mm is 12 mm at
    160 mm (the lever law).

    Args:
        play: as measured.
        measured_at: distance from the pivot at which it was.
        wanted_at: distance from the pivot at which it is wanted.

    Raises:
        ValueError: a distance that is not above zero, or no length.
    """
    here, there = measured_at.to(_MM).value, wanted_at.to(_MM).value
    if here <= 0 or there <= 0:
        msg = "a distance from the pivot is above zero"
        raise ValueError(msg)
    if play.unit.dimension is not _MM.dimension:
        msg = f"{play} is no length"
        raise ValueError(msg)
    return Quantity(play.value * there / here, play.unit)


def adjuster_turns(
    measured: Quantity, wanted: Quantity, adjuster: Thread, cable_at: Quantity, play_at_: Quantity
) -> Quantity:
    """Turns of a cable adjuster that bring the play from measured to wanted; out is above zero.

    A turn out moves the sheath by one pitch and takes that much play away at the cable's end.

    Args:
        measured: play as found, where it is measured.
        wanted: play that is wanted there.
        adjuster: its thread.
        cable_at: distance from the pivot to the cable's end.
        play_at_: distance from the pivot to where the play is measured.

    Raises:
        ValueError: as `play_at`.
    """
    too_much = Quantity(measured.to(_MM).value - wanted.to(_MM).value, _MM)
    at_cable = play_at(too_much, play_at_, cable_at)
    return Quantity(at_cable.value / adjuster.pitch.to(_MM).value, _TURN)
