"""The three hazards as a small explicit model: what is safe, what is open, what is unproven.

Every rule about which stop is due, and what is forbidden, is a pure function of these states
and the tags of the step that is about to open. The run and the proof call the same functions.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from assistant.checklist.model import Hazards
from assistant.checklist.tags import BatteryTag, EventTag, FluidTag


class Hazard(StrEnum):
    """What can hurt."""

    BATTERY = "battery"
    FUEL = "fuel"
    BRAKE = "brake"


class Condition(StrEnum):
    """State of one hazard.

    For the battery SAFE means connected and proven, OPEN means isolated and read back.
    For fuel and brake SAFE means closed and proven, OPEN means opened under its stop, CLOSED
    means closed by a step and not checked yet, CLOSED_UNPROVEN checked (or doubted since) and
    not read back. CLOSING exists for the battery only: the stop before reconnecting is passed.
    """

    SAFE = "safe"
    OPEN = "open"
    OPEN_UNPROVEN = "open, unproven"
    CLOSING = "closing"
    CLOSED = "closed, unchecked"
    CLOSED_UNPROVEN = "closed, unproven"

    @property
    def plain(self) -> str:
        """The word the product uses: safe, open or unproven."""
        if self in (Condition.SAFE, Condition.OPEN):
            return self.value
        return "open" if self is Condition.CLOSING else "unproven"


class Stop(StrEnum):
    """The seven safety stops, in the order of a whole job."""

    BATTERY_OFF = "battery_off"
    FUEL_OPEN = "fuel_open"
    FUEL_CLOSED = "fuel_closed"
    BRAKE_OPEN = "brake_open"
    BRAKE_PROVEN = "brake_proven"
    BATTERY_ON = "battery_on"
    RELEASE = "release"


@dataclass(frozen=True, slots=True)
class HazardState:
    """The three hazards of one job.

    Attributes:
        brake_opened: a brake circuit was opened at some time in this job.
        brake_final: the brake was proven once more after the last step, for the release.
    """

    battery: Condition = Condition.SAFE
    fuel: Condition = Condition.SAFE
    brake: Condition = Condition.SAFE
    brake_opened: bool = False
    brake_final: bool = False

    def of(self, hazard: Hazard) -> Condition:
        """The condition of one hazard."""
        return {
            Hazard.BATTERY: self.battery,
            Hazard.FUEL: self.fuel,
            Hazard.BRAKE: self.brake,
        }[hazard]

    def open_ones(self) -> tuple[Hazard, ...]:
        """The hazards that are not safe."""
        return tuple(h for h in Hazard if self.of(h) is not Condition.SAFE)


NO_TAGS = Hazards()
_FUEL_NEEDS_ISOLATION = (FluidTag.OPEN, FluidTag.WORK)
_STILL_CLOSING = (FluidTag.CLOSE, FluidTag.PROVE)
_SHUT = (Condition.SAFE, Condition.CLOSED)


def needs_isolation(tags: Hazards) -> bool:
    """Whether a step may only be done with the battery isolated (invariant I1)."""
    return tags.battery is BatteryTag.NEEDS_ISOLATED or tags.fuel in _FUEL_NEEDS_ISOLATION


def due_stop(state: HazardState, tags: Hazards | None) -> Stop | None:
    """The safety stop that must be passed before a step with these tags opens.

    Args:
        state: the hazards now.
        tags: the tags of the step about to open; None stands for the release of the job.

    Returns:
        The stop, or None when the step may open. One stop at a time: after it is passed,
        ask again.
    """
    now = tags or NO_TAGS
    for due in (_battery_off_due, _fuel_due, _brake_due, _battery_on_due):
        stop = due(state, now)
        if stop is not None:
            return stop
    if tags is None:
        closed = state.brake is Condition.SAFE  # an open brake is closed first, not talked shut
        if closed and state.brake_opened and not state.brake_final:
            return Stop.BRAKE_PROVEN
        return Stop.RELEASE
    return None


def _battery_off_due(state: HazardState, tags: Hazards) -> Stop | None:
    undone = state.battery is Condition.OPEN_UNPROVEN
    return Stop.BATTERY_OFF if undone and tags.battery is not BatteryTag.DISCONNECT else None


def _fuel_due(state: HazardState, tags: Hazards) -> Stop | None:
    if state.fuel is Condition.CLOSED_UNPROVEN and tags.fuel not in _STILL_CLOSING:
        return Stop.FUEL_CLOSED
    opening = tags.fuel is FluidTag.OPEN and state.fuel in _SHUT
    return Stop.FUEL_OPEN if opening or state.fuel is Condition.OPEN_UNPROVEN else None


def _brake_due(state: HazardState, tags: Hazards) -> Stop | None:
    if state.brake is Condition.CLOSED_UNPROVEN and tags.brake not in _STILL_CLOSING:
        return Stop.BRAKE_PROVEN
    opening = tags.brake is FluidTag.OPEN and state.brake in _SHUT
    return Stop.BRAKE_OPEN if opening or state.brake is Condition.OPEN_UNPROVEN else None


def _battery_on_due(state: HazardState, tags: Hazards) -> Stop | None:
    back = tags.battery is BatteryTag.RECONNECT and state.battery is Condition.OPEN
    return Stop.BATTERY_ON if back else None


def forbidden(state: HazardState, tags: Hazards | None) -> str | None:
    """Why a step with these tags must not be done in this state, as a key into the texts.

    None when it may be done once its stop, if any, is passed. tags None is the release.
    """
    unchecked = _unchecked(state, tags or NO_TAGS)
    if unchecked is not None:
        return unchecked
    if tags is None:
        return "release-with-open-hazard" if _left_open(state) else None
    if needs_isolation(tags) and state.battery is not Condition.OPEN:
        return "needs-battery-isolated"
    return (
        _event_forbidden(state, tags)
        or _battery_forbidden(state, tags)
        or ("fuel-not-open" if _shut(state.fuel, tags.fuel) else None)
        or ("brake-not-open" if _shut(state.brake, tags.brake) else None)
    )


def fluids(tags: Hazards) -> tuple[tuple[Hazard, FluidTag | None], ...]:
    """The two hazards that are opened and closed, with what the tags say of each."""
    return ((Hazard.FUEL, tags.fuel), (Hazard.BRAKE, tags.brake))


def _unchecked(state: HazardState, tags: Hazards) -> str | None:
    """What was closed is checked before anything else is done but closing, or opening again."""
    goes_on = (*_STILL_CLOSING, FluidTag.OPEN)
    if state.fuel is Condition.CLOSED and tags.fuel not in goes_on:
        return "fuel-not-checked"
    if state.brake is Condition.CLOSED and tags.brake not in goes_on:
        return "brake-not-checked"
    return None


def _left_open(state: HazardState) -> bool:
    # A closed hazard that only lacks its read-back still gets its stop before the release.
    closable = (Condition.SAFE, Condition.CLOSED_UNPROVEN)
    return (
        state.battery is not Condition.SAFE
        or state.fuel not in closable
        or state.brake not in closable
    )


UNSHUT = (Condition.OPEN, Condition.OPEN_UNPROVEN)


def _event_forbidden(state: HazardState, tags: Hazards) -> str | None:
    """No current into vapor, and no movement on a brake, before that is proven safe."""
    if tags.event is EventTag.MACHINE_MOVED:
        return "moved-with-brake-open" if state.brake is not Condition.SAFE else None
    if tags.event is not None and state.fuel is not Condition.SAFE:
        return "ignition-with-fuel-open"
    return None


def _battery_forbidden(state: HazardState, tags: Hazards) -> str | None:
    if tags.battery is BatteryTag.PROVE and state.battery is not Condition.CLOSED_UNPROVEN:
        return "battery-nothing-to-prove"
    if tags.battery is not BatteryTag.RECONNECT:
        return None
    if state.fuel is not Condition.SAFE:
        return "battery-on-with-fuel-open"
    if state.battery in (Condition.SAFE, Condition.CLOSED_UNPROVEN):
        return "battery-not-off"
    return None


def _shut(condition: Condition, tag: FluidTag | None) -> bool:
    """Whether a step works on, closes or proves a system that nothing has opened."""
    if tag is FluidTag.PROVE:
        return condition not in (Condition.CLOSED, Condition.CLOSED_UNPROVEN)
    if tag is FluidTag.CLOSE:
        return condition is Condition.SAFE
    return tag is FluidTag.WORK and condition not in UNSHUT


_BATTERY_AFTER_STOP = {Stop.BATTERY_OFF: Condition.OPEN, Stop.BATTERY_ON: Condition.CLOSING}
_FUEL_AFTER_STOP = {Stop.FUEL_OPEN: Condition.OPEN, Stop.FUEL_CLOSED: Condition.SAFE}


def untrue(state: HazardState, stop: Stop) -> bool:
    """Whether the read-back of a stop that the author asked for would be false in this state.

    The stops before something is opened or connected are precautions, true at any time.
    """
    told = {
        Stop.BATTERY_OFF: (state.battery, Condition.OPEN),
        Stop.FUEL_CLOSED: (state.fuel, Condition.SAFE),
        Stop.BRAKE_PROVEN: (state.brake, Condition.SAFE),
    }
    now, wanted = told.get(stop, (None, None))
    return now is not wanted


def after_stop(state: HazardState, stop: Stop, *, releasing: bool) -> HazardState:
    """The hazards after this stop's read-back was given."""
    if stop in _BATTERY_AFTER_STOP:
        return replace(state, battery=_BATTERY_AFTER_STOP[stop])
    if stop in _FUEL_AFTER_STOP:
        return replace(state, fuel=_FUEL_AFTER_STOP[stop])
    if stop is Stop.BRAKE_OPEN:
        return replace(state, brake=Condition.OPEN, brake_opened=True, brake_final=False)
    if stop is Stop.BRAKE_PROVEN:
        return replace(state, brake=Condition.SAFE, brake_final=releasing)
    return state


def pass_stops(state: HazardState, tags: Hazards | None) -> tuple[HazardState, tuple[Stop, ...]]:
    """Pass every stop that is due before a step, in order, but the release itself.

    Returns:
        The hazards afterwards, and the stops that were passed.
    """
    passed: list[Stop] = []
    while (stop := due_stop(state, tags)) is not None and stop is not Stop.RELEASE:
        passed.append(stop)
        state = after_stop(state, stop, releasing=tags is None)
    return state, tuple(passed)


_FLUID_AFTER = {
    FluidTag.OPEN: Condition.OPEN,
    FluidTag.WORK: Condition.OPEN,
    FluidTag.CLOSE: Condition.CLOSED,
    FluidTag.PROVE: Condition.CLOSED_UNPROVEN,
}
_BATTERY_AFTER = {
    BatteryTag.DISCONNECT: Condition.OPEN_UNPROVEN,
    BatteryTag.RECONNECT: Condition.CLOSED_UNPROVEN,
    BatteryTag.PROVE: Condition.SAFE,
}


def after_step(state: HazardState, tags: Hazards) -> HazardState:
    """The hazards after a step with these tags was confirmed."""
    if tags.battery in _BATTERY_AFTER:
        state = replace(state, battery=_BATTERY_AFTER[tags.battery])
    if tags.fuel in _FLUID_AFTER:
        state = replace(state, fuel=_FLUID_AFTER[tags.fuel])
    if tags.brake in _FLUID_AFTER:
        state = replace(state, brake=_FLUID_AFTER[tags.brake])
    return state


_DOUBTED = {
    Condition.SAFE: Condition.CLOSED_UNPROVEN,
    Condition.OPEN: Condition.OPEN_UNPROVEN,
    Condition.CLOSING: Condition.OPEN_UNPROVEN,
}


def doubt(state: HazardState, hazard: Hazard, *, even_if_safe: bool) -> HazardState:
    """The hazards after something made one of them unproven (smell, leak, break, hand-over).

    Args:
        state: the hazards now.
        hazard: which one is in doubt.
        even_if_safe: an alarm doubts a closed system too, a break only an open one.
    """
    condition = state.of(hazard)
    if condition is Condition.SAFE and not even_if_safe:
        return state
    if hazard is Hazard.BATTERY and condition is Condition.SAFE:
        return state  # a connected battery is made safe by disconnecting it, not by a read-back
    doubted = _DOUBTED.get(condition, condition)
    if hazard is Hazard.BATTERY:
        return replace(state, battery=doubted)
    if hazard is Hazard.FUEL:
        return replace(state, fuel=doubted)
    return replace(state, brake=doubted, brake_final=False)
