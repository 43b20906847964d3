"""The three hazards: which stop is due, what is forbidden, what doubt does, for every state."""

from __future__ import annotations

from itertools import product

import pytest

from assistant.checklist.model import Hazards
from assistant.checklist.tags import BatteryTag, EventTag, FluidTag
from assistant.safety.hazards import (
    Condition,
    Hazard,
    HazardState,
    Stop,
    after_step,
    after_stop,
    doubt,
    due_stop,
    forbidden,
    needs_isolation,
    untrue,
)

BATTERY = [c for c in Condition if c is not Condition.CLOSED]
FLUID = [c for c in Condition if c is not Condition.CLOSING]
STATES = [HazardState(*conditions) for conditions in product(BATTERY, FLUID, FLUID)]
TAGS = [
    Hazards(battery=battery, fuel=fuel, brake=brake)
    for battery, fuel, brake in product((None, *BatteryTag), (None, *FluidTag), (None, *FluidTag))
]
RELEASE_OR_NONE = (None, Stop.RELEASE)


def through(state: HazardState, tags: Hazards | None) -> tuple[HazardState, list[Stop]]:
    """The state after every stop that is due, and those stops."""
    met: list[Stop] = []
    while (stop := due_stop(state, tags)) not in RELEASE_OR_NONE:
        assert stop is not None
        assert len(met) < len(Stop), f"stops without end: {met}"
        met.append(stop)
        state = after_stop(state, stop, releasing=tags is None)
    return state, met


@pytest.mark.parametrize("tags", [*TAGS, None])
def test_stops_come_to_an_end(tags: Hazards | None) -> None:
    """Whatever the state, a few stops lead to the step or the release; none is asked for ever."""
    for state in STATES:
        through(state, tags)


@pytest.mark.parametrize("tags", TAGS)
def test_a_step_that_may_open_finds_what_it_needs(tags: Hazards) -> None:
    """After its stops a step is either forbidden or finds battery, fuel and brake as it needs.

    That the energy is isolated and verified before the work begins is what 29 CFR 1910.147
    (d)(3) to (d)(6) asks for.
    """
    for state in STATES:
        now, _ = through(state, tags)
        if forbidden(now, tags) is not None:
            continue
        if needs_isolation(tags):
            assert now.battery is Condition.OPEN
        for tag, condition in ((tags.fuel, now.fuel), (tags.brake, now.brake)):
            if tag in (FluidTag.OPEN, FluidTag.WORK):
                assert condition is Condition.OPEN
            if tag is None:  # what was closed has been checked and read back
                assert condition in (Condition.SAFE, Condition.OPEN)
        if tags.battery is BatteryTag.RECONNECT:
            assert now.battery is Condition.CLOSING
            assert now.fuel is Condition.SAFE


@pytest.mark.parametrize("tags", TAGS)
def test_a_step_alone_makes_nothing_safe_but_a_proved_battery(tags: Hazards) -> None:
    """Confirming a step leaves a fluid open or unproven; only the battery's reading makes safe."""
    for state in STATES:
        after = after_step(state, tags)
        for hazard in (Hazard.FUEL, Hazard.BRAKE):
            if after.of(hazard) is Condition.SAFE:
                assert state.of(hazard) is Condition.SAFE
        if after.battery is Condition.SAFE and state.battery is not Condition.SAFE:
            assert tags.battery is BatteryTag.PROVE
        assert after.battery is not Condition.OPEN or state.battery is Condition.OPEN


@pytest.mark.parametrize(
    ("state", "tags", "stop"),
    [
        (HazardState(battery=Condition.OPEN_UNPROVEN), Hazards(), Stop.BATTERY_OFF),
        (HazardState(), Hazards(fuel=FluidTag.OPEN), Stop.FUEL_OPEN),
        (HazardState(fuel=Condition.CLOSED_UNPROVEN), Hazards(), Stop.FUEL_CLOSED),
        (HazardState(), Hazards(brake=FluidTag.OPEN), Stop.BRAKE_OPEN),
        (HazardState(brake=Condition.CLOSED_UNPROVEN), Hazards(), Stop.BRAKE_PROVEN),
        (
            HazardState(battery=Condition.OPEN),
            Hazards(battery=BatteryTag.RECONNECT),
            Stop.BATTERY_ON,
        ),
        (HazardState(), None, Stop.RELEASE),
        (HazardState(brake_opened=True), None, Stop.BRAKE_PROVEN),
        (HazardState(brake_opened=True, brake_final=True), None, Stop.RELEASE),
        (HazardState(fuel=Condition.OPEN_UNPROVEN), Hazards(), Stop.FUEL_OPEN),
        (HazardState(brake=Condition.OPEN_UNPROVEN), Hazards(), Stop.BRAKE_OPEN),
    ],
)
def test_each_stop_is_due_at_its_hazard_change(
    state: HazardState, tags: Hazards | None, stop: Stop
) -> None:
    """Each of the seven stops stands where its hazard changes, or is doubted."""
    assert due_stop(state, tags) is stop


def test_no_stop_between_two_steps_of_the_same_isolation() -> None:
    """A second step that tries the isolation out comes before the stop, not after it."""
    undone = HazardState(battery=Condition.OPEN_UNPROVEN)
    assert due_stop(undone, Hazards(battery=BatteryTag.DISCONNECT)) is None


@pytest.mark.parametrize(
    ("state", "tags", "reason"),
    [
        (HazardState(), Hazards(fuel=FluidTag.OPEN), "needs-battery-isolated"),
        (HazardState(), Hazards(battery=BatteryTag.NEEDS_ISOLATED), "needs-battery-isolated"),
        (
            HazardState(battery=Condition.CLOSED_UNPROVEN),
            Hazards(battery=BatteryTag.NEEDS_ISOLATED),
            "needs-battery-isolated",
        ),
        (
            HazardState(battery=Condition.CLOSING, fuel=Condition.OPEN),
            Hazards(battery=BatteryTag.RECONNECT),
            "battery-on-with-fuel-open",
        ),
        (HazardState(), Hazards(battery=BatteryTag.RECONNECT), "battery-not-off"),
        (HazardState(), Hazards(battery=BatteryTag.PROVE), "battery-nothing-to-prove"),
        (HazardState(), Hazards(fuel=FluidTag.CLOSE), "fuel-not-open"),
        (HazardState(), Hazards(fuel=FluidTag.PROVE), "fuel-not-open"),
        (HazardState(), Hazards(brake=FluidTag.WORK), "brake-not-open"),
        (HazardState(brake=Condition.OPEN), Hazards(brake=FluidTag.PROVE), "brake-not-open"),
        (HazardState(battery=Condition.CLOSED_UNPROVEN), None, "release-with-open-hazard"),
        (HazardState(fuel=Condition.OPEN), None, "release-with-open-hazard"),
        (HazardState(brake=Condition.OPEN_UNPROVEN), None, "release-with-open-hazard"),
        (HazardState(brake=Condition.CLOSED_UNPROVEN), None, None),
        (HazardState(brake=Condition.CLOSED), None, "brake-not-checked"),
        (HazardState(brake=Condition.CLOSED), Hazards(), "brake-not-checked"),
        (HazardState(fuel=Condition.CLOSED), Hazards(), "fuel-not-checked"),
        (
            HazardState(battery=Condition.OPEN, fuel=Condition.CLOSED),
            Hazards(battery=BatteryTag.RECONNECT),
            "fuel-not-checked",
        ),
        (HazardState(fuel=Condition.CLOSED), Hazards(fuel=FluidTag.CLOSE), None),
        (HazardState(fuel=Condition.CLOSED), Hazards(fuel=FluidTag.PROVE), None),
        (HazardState(brake=Condition.CLOSED), Hazards(brake=FluidTag.WORK), "brake-not-checked"),
        (
            HazardState(brake=Condition.CLOSED_UNPROVEN),
            Hazards(brake=FluidTag.PROVE, event=EventTag.MACHINE_MOVED),
            "moved-with-brake-open",
        ),
        (
            HazardState(fuel=Condition.CLOSED),
            Hazards(fuel=FluidTag.PROVE, event=EventTag.IGNITION_ON),
            "ignition-with-fuel-open",
        ),
        (HazardState(), None, None),
    ],
)
def test_forbidden_says_why(state: HazardState, tags: Hazards | None, reason: str | None) -> None:
    """A step out of its place, or a release with a hazard open, is forbidden by its own reason."""
    assert forbidden(state, tags) == reason


def test_what_is_closed_gets_its_stop_only_after_its_check() -> None:
    """Closing alone brings no stop: the check comes first, then the read-back about it."""
    for hazard, stop in ((Hazard.FUEL, Stop.FUEL_CLOSED), (Hazard.BRAKE, Stop.BRAKE_PROVEN)):

        def tagged(tag: FluidTag, hazard: Hazard = hazard) -> Hazards:
            return Hazards(fuel=tag) if hazard is Hazard.FUEL else Hazards(brake=tag)

        opened = HazardState(Condition.OPEN, Condition.OPEN, Condition.OPEN)
        closed = after_step(opened, tagged(FluidTag.CLOSE))
        assert closed.of(hazard) is Condition.CLOSED
        assert due_stop(closed, Hazards()) is None
        assert forbidden(closed, Hazards()) == f"{hazard.value}-not-checked"
        checked = after_step(closed, tagged(FluidTag.PROVE))
        assert due_stop(checked, Hazards()) is stop


@pytest.mark.parametrize(
    ("stop", "state", "false"),
    [
        (Stop.BATTERY_OFF, HazardState(), True),
        (Stop.BATTERY_OFF, HazardState(battery=Condition.OPEN), False),
        (Stop.FUEL_CLOSED, HazardState(fuel=Condition.OPEN), True),
        (Stop.FUEL_CLOSED, HazardState(fuel=Condition.CLOSED), True),
        (Stop.FUEL_CLOSED, HazardState(), False),
        (Stop.BRAKE_PROVEN, HazardState(brake=Condition.OPEN), True),
        (Stop.BRAKE_PROVEN, HazardState(), False),
        (Stop.FUEL_OPEN, HazardState(), False),
        (Stop.BRAKE_OPEN, HazardState(), False),
        (Stop.BATTERY_ON, HazardState(), False),
    ],
)
def test_a_stop_asked_for_must_be_true(stop: Stop, state: HazardState, false: bool) -> None:
    """An author's own stop can't make someone read back what isn't so."""
    assert untrue(state, stop) is false


@pytest.mark.parametrize("hazard", Hazard)
@pytest.mark.parametrize("even_if_safe", [True, False])
def test_doubt_never_makes_sure(hazard: Hazard, even_if_safe: bool) -> None:
    """Doubt leaves nothing open or safe in its hazard but what the caller spares, and no other."""
    for state in STATES:
        after = doubt(state, hazard, even_if_safe=even_if_safe)
        for other in Hazard:
            if other is not hazard:
                assert after.of(other) is state.of(other)
        spared = state.of(hazard) is Condition.SAFE and (
            not even_if_safe or hazard is Hazard.BATTERY
        )
        assert (after.of(hazard).plain == "unproven") or spared
        assert doubt(after, hazard, even_if_safe=even_if_safe) == after


@pytest.mark.parametrize("state", STATES)
def test_what_is_doubted_is_asked_again(state: HazardState) -> None:
    """After doubt in all three, no hazard counts as open or safe until its stop is passed (I5)."""
    doubted = state
    for hazard in Hazard:
        doubted = doubt(doubted, hazard, even_if_safe=False)
    now, met = through(doubted, Hazards())
    for hazard, stop in (
        (Hazard.BATTERY, Stop.BATTERY_OFF),
        (Hazard.FUEL, Stop.FUEL_OPEN),
        (Hazard.BRAKE, Stop.BRAKE_OPEN),
    ):
        if state.of(hazard) is Condition.OPEN:
            assert doubted.of(hazard).plain == "unproven"
            assert stop in met
            assert now.of(hazard) is Condition.OPEN


def test_doubt_of_the_brake_takes_the_final_proof_back() -> None:
    """A leak after the brake was proven for the release makes it be proven once more."""
    final = HazardState(brake_opened=True, brake_final=True)
    doubted = doubt(final, Hazard.BRAKE, even_if_safe=True)
    _, met = through(doubted, None)
    assert met == [Stop.BRAKE_PROVEN]
    assert due_stop(final, None) is Stop.RELEASE


@pytest.mark.parametrize(
    ("condition", "plain"),
    [
        (Condition.SAFE, "safe"),
        (Condition.OPEN, "open"),
        (Condition.CLOSING, "open"),
        (Condition.OPEN_UNPROVEN, "unproven"),
        (Condition.CLOSED, "unproven"),
        (Condition.CLOSED_UNPROVEN, "unproven"),
    ],
)
def test_plain_words(condition: Condition, plain: str) -> None:
    """People are told three words only: safe, open, unproven."""
    assert condition.plain == plain
    assert list(HazardState(fuel=condition).open_ones()) == (
        [] if condition is Condition.SAFE else [Hazard.FUEL]
    )
