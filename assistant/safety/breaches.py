"""What the proof can find broken, and how it is told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assistant.checklist.expand import option_text
from assistant.checklist.plan import PlannedStep
from assistant.safety.walk import Trail

BROKEN: Mapping[str, str] = {
    "needs-battery-isolated": "this needs the battery isolated, and on this path it is not: a "
    "step tagged battery: disconnect must come before it (I1)",
    "battery-on-with-fuel-open": "the battery goes back while fuel is still open: a step tagged "
    "fuel: close must come before battery: reconnect (I1)",
    "battery-not-off": "the battery is reconnected, but on this path it was never disconnected",
    "battery-nothing-to-prove": "battery: prove has nothing to prove here: a step tagged battery: "
    "reconnect must come before it",
    "ignition-with-fuel-open": "the ignition is switched on or the engine started while fuel is "
    "open: a step tagged fuel: close must come before it",
    "moved-with-brake-open": "the machine is moved while a brake is open: a step tagged brake: "
    "close must come before it",
    "fuel-not-open": "fuel: {tag} without an open fuel system: a step tagged fuel: {wants} must "
    "come before it",
    "brake-not-open": "brake: {tag} without an open brake: a step tagged brake: {wants} must "
    "come before it",
    "fuel-not-checked": "fuel was closed and nothing has checked it for leaks: a step tagged fuel: "
    "prove must come right after the steps tagged fuel: close (I2)",
    "brake-not-checked": "the brake was closed and nothing has checked it: a step tagged brake: "
    "prove must come right after the steps tagged brake: close (I2)",
    "asked-stop-untrue": "stop: {stop} asks for a read-back that is not true here: fuel_closed and "
    "brake_proven can only be read back once their check is done, battery_off while the battery is "
    "off (I3)",
    "release-with-open-hazard": "the job would end with a hazard not safe: {open} (I2)",
    "reopens-hazard-work": "{reopened} opens or works on a hazard and can't be done again once "
    "that is closed, so the job would be stuck there: reopen only steps that close, prove or look",
    "optional-hazard": "a step that touches a hazard can't be optional: leaving it out would "
    "change what is safe; use an option (when) instead (I3)",
    "interlock": "{name}: {says} On this path it is so; put the step after what it waits for",
    "still-off": "{item} came off and is still off at the end on this path; name it under back "
    "where it goes on (I2)",
    "back-without-off": "{item} goes back on, but on this path it is not off, or fewer are off",
}


@dataclass(frozen=True, slots=True)
class Broken:
    """An invariant that some path breaks.

    Attributes:
        code: key of BROKEN.
        step: the step at which it breaks, or that took off what is still off; None at the
            release.
        message: what is wrong and what would be right.
        path: options, steps and stops that lead there, as a person can follow them.
    """

    code: str
    step: PlannedStep | None
    message: str
    path: tuple[str, ...]


def path_of(trail: Trail, end: str) -> tuple[str, ...]:
    """The options chosen, what happened, and the end, as a person can follow them."""
    chosen = ", ".join(f"{name}={option_text(value)}" for name, value in trail.options())
    lines = trail.lines()
    return (f"options {chosen or 'any'}", *lines, *([end] if end else []))
