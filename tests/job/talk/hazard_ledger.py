"""The three hazards followed from the steps done, the stops passed and what was heard.

Written from the texts of the stops and the tags that authors set, not from the product's model:
what must have been read back before each step is worked out here anew. It is less strict than
the job where a mended trouble reopens steps; it must never find that a step was done, or the job
released, without the stop that had to come first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from assistant.checklist.model import Hazards
from assistant.checklist.plan import PlannedStep
from assistant.checklist.tags import BatteryTag, EventTag, FluidTag
from assistant.job.effects import Line
from assistant.job.events import Event, Heard, Resumed

LONG_BREAK = 600.0
"""Seconds after which a pause costs trust: the product's own figure, written down once more."""
_OPENS = (FluidTag.OPEN, FluidTag.WORK)
_SHUTS = (FluidTag.CLOSE, FluidTag.PROVE)
_DOUBTS = {
    "alarm.smell_of_fuel": ("fuel",),
    "alarm.smoke": ("battery", "fuel"),
    "alarm.fluid_leak": ("brake",),
}


@dataclass(frozen=True, slots=True)
class Told:
    """What people have read back or measured, and not been given reason to doubt since.

    Attributes:
        battery: on, off, reconnecting or on-unmeasured; "?" marks what nobody has read back.
        fuel: shut, open, closed (nobody looked) or checked (nobody has read it back).
        brake: the same.
    """

    battery: str = "on"
    fuel: str = "shut"
    brake: str = "shut"
    brake_opened: bool = False
    brake_last: bool = False


def _with(told: Told, name: str, now: str) -> Told:
    """The same with one hazard changed."""
    match name:
        case "battery":
            return replace(told, battery=now)
        case "fuel":
            return replace(told, fuel=now)
        case _:
            return replace(told, brake=now)


@dataclass(slots=True)
class HazardLedger:
    """Follows one job and judges each step done and each stop passed."""

    now: Told = field(default_factory=Told)
    seen: dict[str, int] = field(default_factory=dict)
    # Before each step done: what was told, stops passed and doubts until then; and the step.
    past: list[tuple[Told, int, int, str]] = field(default_factory=list)
    stops: int = 0
    doubts: int = 0
    paused: float = 0.0

    def copy(self) -> HazardLedger:
        """The same, to go on from here more than once."""
        return replace(self, seen=dict(self.seen), past=list(self.past))

    def undone(self, left: int) -> None:
        """So many steps are done still; the others were taken back."""
        told, stops, doubts, _ = self.past[left]
        assert stops == self.stops, "a step was taken back across a safety stop"
        assert doubts == self.doubts, "a step was taken back across a doubt"
        self.now = told
        for *_, step in self.past[left:]:
            self.seen[step] -= 1
        del self.past[left:]

    def done(self, planned: PlannedStep) -> None:
        """A step was confirmed."""
        tags, now = planned.step.hazards, self.now
        self.past.append((now, self.stops, self.doubts, planned.id))
        again = self.seen.get(planned.id, 0) > 0
        self.seen[planned.id] = self.seen.get(planned.id, 0) + 1
        _judge_battery(now, tags, planned.id)
        for name, tag in (("fuel", tags.fuel), ("brake", tags.brake)):
            _judge_fluid(getattr(now, name), tag, f"{planned.id}: {name}", again=again)
        _judge_event(now, tags, planned.id)
        self.now = replace(
            now,
            battery=_battery_after(now.battery, tags.battery),
            fuel=_fluid_after(now.fuel, tags.fuel),
            brake=_fluid_after(now.brake, tags.brake),
        )

    def passed(self, stop: str, ahead: PlannedStep | None) -> None:
        """A stop was passed; `ahead` is the step that comes next, None at the release."""
        self.stops += 1
        now, tags = self.now, ahead.step.hazards if ahead is not None else Hazards()
        if stop == "battery_off":
            assert now.battery in ("off", "off?"), "battery read back as off, and it is on"
            self.now = replace(now, battery="off")
        elif stop == "battery_on" and tags.battery is BatteryTag.RECONNECT:
            assert now.battery in ("off", "reconnecting")
            self.now = replace(now, battery="reconnecting")
        elif stop in ("fuel_open", "brake_open"):
            self._opened(stop.removesuffix("_open"), tags)
        elif stop in ("fuel_closed", "brake_proven"):
            name = "fuel" if stop == "fuel_closed" else "brake"
            found = getattr(now, name)
            assert found in ("shut", "checked"), f"{stop} read back while {name} is {found}"
            last = ahead is None if name == "brake" else now.brake_last
            self.now = replace(_with(now, name, "shut"), brake_last=last)
        elif stop == "release":
            self._released()

    def _opened(self, name: str, tags: Hazards) -> None:
        tag = tags.fuel if name == "fuel" else tags.brake
        if tag is not FluidTag.OPEN and getattr(self.now, name) not in ("open", "open?"):
            return  # only asked for by the author
        self.now = _with(self.now, name, "open")
        if name == "brake":
            self.now = replace(self.now, brake_opened=True, brake_last=False)

    def _released(self) -> None:
        now = self.now
        assert (now.battery, now.fuel, now.brake) == ("on", "shut", "shut"), f"released with {now}"
        assert now.brake_last or not now.brake_opened, "released without a last look at the brake"

    def saw(self, event: Event, said: Sequence[Line], *, frozen: bool) -> None:
        """One event, before what it did is judged: does it give reason to doubt?

        Args:
            event: what happened.
            said: every line said after it.
            frozen: everything was brought to a halt by it.
        """
        keys = {line.key for line in said}
        for key, hazards in _DOUBTS.items():
            if key in keys:
                self._doubt(hazards, shut_too=True)
        if isinstance(event, Resumed) or "hand_over.done" in keys or frozen:
            self._doubt(("battery", "fuel", "brake"), shut_too=False)
        if "pause.begun" in keys and isinstance(event, Heard) and event.intent.name == "stand_by":
            self.paused = event.at.mono

    def carried_on(self, at: float) -> None:
        """Work goes on after a pause."""
        if at - self.paused > LONG_BREAK:
            self._doubt(("battery", "fuel", "brake"), shut_too=False)

    def _doubt(self, hazards: Sequence[str], *, shut_too: bool) -> None:
        self.doubts += 1
        for name in hazards:
            found = getattr(self.now, name)
            doubted = {"off": "off?", "reconnecting": "off?", "open": "open?"}.get(found, found)
            if shut_too and found == "shut":
                doubted = "checked"
            self.now = _with(self.now, name, doubted)
            if name == "brake" and doubted != found:
                self.now = replace(self.now, brake_last=False)


def _judge_battery(now: Told, tags: Hazards, step: str) -> None:
    off_first = tags.battery is BatteryTag.NEEDS_ISOLATED or tags.fuel in _OPENS
    if off_first:
        assert now.battery == "off", f"{step} needs the battery off, and it is {now.battery}"
    if tags.battery is not BatteryTag.DISCONNECT:
        assert now.battery != "off?", f"{step} was done before the battery was read back as off"
    if tags.battery is BatteryTag.RECONNECT:
        assert now.battery == "reconnecting", f"{step}: connected without its own read-back"
        assert now.fuel == "shut" or tags.fuel in _SHUTS, f"{step}: connected, fuel {now.fuel}"
    if tags.battery is BatteryTag.PROVE:
        assert now.battery == "on-unmeasured", f"{step} measures a battery that is {now.battery}"


def _judge_fluid(now: str, tag: FluidTag | None, where: str, *, again: bool) -> None:
    assert now != "open?", f"{where} is open and that was not read back again"
    if tag in _OPENS:
        assert now == "open", f"{where} is worked on and is {now}"
    if tag not in _SHUTS:
        assert now not in ("closed", "checked"), f"{where} is {now} and not read back"
    if tag is FluidTag.CLOSE:
        assert now != "shut" or again, f"{where} is closed and nothing opened it"
    if tag is FluidTag.PROVE:
        assert now in ("closed", "checked") or again, f"{where} is checked while {now}"


def _judge_event(now: Told, tags: Hazards, step: str) -> None:
    if tags.event is EventTag.MACHINE_MOVED:
        assert now.brake == "shut", f"{step}: moved with the brake {now.brake}"
    elif tags.event is not None:
        assert now.fuel == "shut", f"{step}: ignition with the fuel {now.fuel}"


def _battery_after(now: str, tag: BatteryTag | None) -> str:
    if tag is BatteryTag.DISCONNECT:
        return "off?"
    if tag is BatteryTag.RECONNECT:
        return "on-unmeasured"
    return "on" if tag is BatteryTag.PROVE else now


def _fluid_after(now: str, tag: FluidTag | None) -> str:
    if tag in _OPENS:
        return "open"
    if tag is FluidTag.CLOSE:
        return "closed"
    return "checked" if tag is FluidTag.PROVE else now
