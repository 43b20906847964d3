"""Words with a fixed meaning in a checklist: signal words, hazard tags, events, stops."""

from __future__ import annotations

from enum import StrEnum
from typing import Final


class SignalWord(StrEnum):
    """Severity of a caution, most severe first (ANSI Z535.4, ISO 3864)."""

    DANGER = "DANGER"
    WARNING = "WARNING"
    CAUTION = "CAUTION"
    NOTICE = "NOTICE"


class BatteryTag(StrEnum):
    """What a step does to the battery's hazard state."""

    DISCONNECT = "disconnect"
    NEEDS_ISOLATED = "needs-isolated"
    RECONNECT = "reconnect"
    PROVE = "prove"


class FluidTag(StrEnum):
    """What a step does to the fuel or brake hazard state."""

    OPEN = "open"
    WORK = "work"
    CLOSE = "close"
    PROVE = "prove"


class EventTag(StrEnum):
    """Something that a step does and that hazards and interlocks forbid at times."""

    IGNITION_ON = "ignition-on"
    ENGINE_START = "engine-start"
    MACHINE_MOVED = "machine-moved"


class StopName(StrEnum):
    """A safety stop, as an author may ask for one more of it."""

    BATTERY_OFF = "battery_off"
    FUEL_OPEN = "fuel_open"
    FUEL_CLOSED = "fuel_closed"
    BRAKE_OPEN = "brake_open"
    BRAKE_PROVEN = "brake_proven"
    BATTERY_ON = "battery_on"


SIDES: Final = ("left", "right", "front", "rear", "upper", "lower")
"""Sides of a machine that a person can be asked to say."""
