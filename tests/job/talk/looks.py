"""What must hold of every single transition: the invariants, looked at from outside."""

from __future__ import annotations

from assistant.checklist.model import Hazards
from assistant.checklist.tags import BatteryTag, FluidTag
from assistant.job.events import Dictated, Event, Heard, Resumed, Tick, Unclear
from assistant.job.flow import readings_absent
from assistant.job.state import JobState, Mode, Progress, Setting
from assistant.language.intent import Intent
from assistant.safety.hazards import Condition, Hazard, Stop

STOP_FOR = {
    (Hazard.BATTERY, Condition.OPEN): Stop.BATTERY_OFF,
    (Hazard.FUEL, Condition.OPEN): Stop.FUEL_OPEN,
    (Hazard.FUEL, Condition.SAFE): Stop.FUEL_CLOSED,
    (Hazard.BRAKE, Condition.OPEN): Stop.BRAKE_OPEN,
    (Hazard.BRAKE, Condition.SAFE): Stop.BRAKE_PROVEN,
}
"""The stop that alone makes a hazard so; a battery becomes safe by its reading at a step."""
_ASKED = (Mode.STOP, Mode.STOP_SECOND)


def look(setting: Setting, old: JobState, new: JobState, event: Event) -> None:
    """Every invariant of one transition."""
    _stops(setting, old, new, event)
    _hazards(setting, old, new, event)
    _confirmations(setting, old, new, event)
    if new.mode is Mode.RELEASED and old.mode is not Mode.RELEASED:
        _release(setting, old, new)


def intent_of(event: Event) -> Intent:
    """What was meant; nothing for other events."""
    return event.intent if isinstance(event, Heard) else Intent("")


def tags_of(setting: Setting, step: str) -> Hazards:
    """The hazard tags of a step."""
    return next(p.step.hazards for p in setting.plan.steps if p.id == step)


def _stops(setting: Setting, old: JobState, new: JobState, event: Event) -> None:
    """I3: a stop counts as passed only by its words with the number then alive."""
    if new.passed == old.passed:
        return
    intent = intent_of(event)
    assert isinstance(event, Heard)
    assert new.passed[:-1] == old.passed
    assert old.mode in _ASKED
    assert old.stop is not None
    assert old.challenge is not None
    entry = new.passed[-1]
    assert entry.stop == old.stop.value
    assert intent.name == "read_back"
    two = old.mode is Mode.STOP_SECOND
    assert intent.get("read_back") == ("second_person" if two else entry.stop)
    number = entry.second_number if two else entry.number
    assert intent.get("challenge") == old.challenge.number == number
    assert event.at.mono - old.challenge.issued <= setting.limits.challenge
    assert new.before == ()


def _hazards(setting: Setting, old: JobState, new: JobState, event: Event) -> None:
    """I3: nothing becomes safe or open but by its stop, its tagged step, or a correction."""
    intent = intent_of(event)
    was, now = old.progress.hazards, new.progress.hazards
    if intent.name in ("correction", "go_back"):
        assert now == was or now in [earlier.hazards for earlier in old.before]
        return
    passed = new.passed[len(old.passed) :]
    done = new.progress.done[len(old.progress.done) :]
    for hazard in Hazard:
        after = now.of(hazard)
        if after is was.of(hazard) or after not in (Condition.SAFE, Condition.OPEN):
            continue
        if (hazard, after) == (Hazard.BATTERY, Condition.SAFE):
            assert [tags_of(setting, d.step).battery for d in done] == [BatteryTag.PROVE]
        else:
            assert [entry.stop for entry in passed] == [STOP_FOR[hazard, after].value]
    if any(now.of(h).plain == "unproven" and was.of(h).plain != "unproven" for h in Hazard):
        by_step = bool(done)
        assert by_step or new.before == ()  # no correction lifts a doubt


def _confirmations(setting: Setting, old: JobState, new: JobState, event: Event) -> None:
    """I1, I8: what a confirmation needs, and that silence and doubt never confirm."""
    if not isinstance(event, Heard | Dictated | Resumed):
        assert isinstance(event, Unclear | Tick) or old.mode is Mode.NEW
        assert steady(new.progress) == steady(old.progress)
        assert new.passed == old.passed
    done = new.progress.done[len(old.progress.done) :]
    assert len(done) <= 1
    for entry in done:
        assert intent_of(event).name in ("step_done", "affirm", "read_back")
        planned = old.step(setting)
        assert planned is not None
        assert planned.id == entry.step
        hazards, tags = old.progress.hazards, planned.step.hazards
        if tags.fuel in (FluidTag.OPEN, FluidTag.WORK):
            assert hazards.battery is Condition.OPEN
            assert hazards.fuel is Condition.OPEN
        if tags.brake in (FluidTag.OPEN, FluidTag.WORK):
            assert hazards.brake is Condition.OPEN
        if planned.step.hold is not None:
            assert old.progress.held
        assert bool(entry.second) is planned.step.second_person
        if planned.step.second_person:
            assert old.mode is Mode.SECOND_PERSON
            assert entry.second == old.second != old.who
        assert old.standing


def steady(progress: Progress) -> tuple[object, ...]:
    """What time and noise must not move."""
    return progress.at, progress.done, progress.left_out, progress.readings, progress.hazards


def _release(setting: Setting, old: JobState, new: JobState) -> None:
    """I2: released only with nothing off, all safe, all readings there, no trouble open."""
    progress, steps = old.progress, setting.plan.steps
    assert progress.hazards.open_ones() == ()
    assert progress.off.open_items() == ()
    assert readings_absent(setting, old) == ()
    assert old.open_troubles() == ()
    assert progress.queue == ()
    assert progress.at == len(steps)
    through = {d.step for d in progress.done} | {gone.step for gone in progress.left_out}
    assert through == {planned.id for planned in steps}
    for planned in steps:
        if planned.id in {gone.step for gone in progress.left_out}:
            assert planned.step.optional
    assert new.passed[-1].stop == "release"
    assert stops_needed(setting) <= {passed.stop for passed in new.passed}


def stops_needed(setting: Setting) -> set[str]:
    """Stops that no job on this plan can end without, by the tags of its steps."""
    needed = {"release"}
    for planned in setting.plan.steps:
        tags = planned.step.hazards
        if tags.battery is BatteryTag.DISCONNECT:
            needed.add("battery_off")
        if tags.battery is BatteryTag.RECONNECT:
            needed.add("battery_on")
        if tags.fuel is FluidTag.OPEN:
            needed |= {"fuel_open", "fuel_closed"}
        if tags.brake is FluidTag.OPEN:
            needed |= {"brake_open", "brake_proven"}
    return needed
