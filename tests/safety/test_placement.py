"""The stops stand where a run meets them."""

from __future__ import annotations

import pytest

from assistant import shelf
from assistant.checklist.expand import expand, option_sets
from assistant.job.state import Mode
from assistant.opening import setting_of
from assistant.safety.placement import Placed, place_stops
from tests.job.bench import ROSTER, Bench, setting

SHIPPED = ("raised-handlebar", "battery-replacement", "clutch-cable-adjustment")


def met(bench: Bench) -> list[tuple[str, str]]:
    """The stops that a straight run meets: (stop, the step it stands before)."""
    found: list[tuple[str, str]] = []
    for _ in range(3000):
        if bench.state.mode is Mode.RELEASED:
            return found
        if bench.state.mode is Mode.STOP and bench.state.stop is not None:
            found.append((bench.state.stop.value, bench.step()))
        bench.answer()
    raise AssertionError(f"never released; at {bench.step()} in mode {bench.state.mode}")


def as_pairs(placed: tuple[Placed, ...]) -> list[tuple[str, str]]:
    """What was placed, as `met` has it."""
    return [(p.stop.value, p.before.id if p.before is not None else "") for p in placed]


def test_placement_of_a_small_job() -> None:
    """Each stop stands at its hazard change; the brake is proven once more before the release."""
    assert as_pairs(place_stops(setting().plan)) == [
        ("battery_off", "line-off"),
        ("fuel_open", "line-off"),
        ("fuel_closed", "hose-off"),
        ("brake_open", "hose-off"),
        ("brake_proven", "negative-on"),
        ("battery_on", "negative-on"),
        ("brake_proven", ""),
        ("release", ""),
    ]


@pytest.mark.parametrize("name", SHIPPED)
def test_placement_is_what_a_straight_run_meets(name: str) -> None:
    """`check` and the job agree on every stop, for every choice of options."""
    loaded = shelf.load_checklist(shelf.find_checklist(name))
    for chosen in option_sets(loaded, 64):
        fixed = setting_of(expand(loaded, chosen), ROSTER)
        placed = as_pairs(place_stops(fixed.plan))
        bench = Bench(fixed)
        assert met(bench) == placed
        assert [entry.stop for entry in bench.state.passed] == [stop for stop, _ in placed]
        assert bench.state.met == len(placed)


def test_the_demo_meets_all_seven_stops() -> None:
    """The demo job shows each safety stop."""
    loaded = shelf.load_checklist(shelf.find_checklist("raised-handlebar"))
    stops = {p.stop.value for p in place_stops(expand(loaded, {}))}
    assert stops == {
        "battery_off",
        "fuel_open",
        "fuel_closed",
        "brake_open",
        "brake_proven",
        "battery_on",
        "release",
    }
