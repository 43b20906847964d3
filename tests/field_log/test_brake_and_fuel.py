"""Field log, replayed: brakes (A07, A08, A09) and fuel (A10, A11)."""

from __future__ import annotations

from assistant.job.state import Mode
from assistant.packaged import stop_texts
from assistant.safety.hazards import Condition, Stop
from assistant.safety.placement import place_stops
from tests.field_log.replay import codes, done, errors, job, report, told

PADS = """\
- step: pads-out
  do: "Pull the pads and push the pistons back."
  hazards: {brake: open}
- step: pads-in
  do: "Refit the pads."
  hazards: {brake: close}
- step: lever
  do: "Pump the lever until it is firm."
  hazards: {brake: prove}
  hold: {time: "20 s", what: "lever firm, not sinking"}
"""


def test_a07_pads_looked_at_lever_not_pumped() -> None:
    """Prevented at the pads: pushing pistons back opens the brake, and only the stop closes it.

    An author who forgets the tag is told by `check`.
    """
    untagged = PADS.replace("  hazards: {brake: open}\n", "", 1)
    assert ("untagged-hazard", "brake") in [
        (f.code, "brake" if "is brake work" in f.message else "") for f in errors(untagged)
    ]
    assert not codes(PADS)
    bench = job(PADS)
    bench.answer()
    assert bench.waits() == (Mode.STOP, "brake_open")
    bench.run_to("lever")
    assert done(bench) == ("hold.needed",)
    bench.hear("start_hold")
    bench.tick(20)
    bench.hear("negative")  # it sank
    assert done(bench) == ("hold.needed",)
    bench.run_to("", Mode.STOP)
    assert bench.waits() == (Mode.STOP, "brake_proven")
    assert bench.state.progress.hazards.brake is Condition.CLOSED_UNPROVEN


def test_a07_rolled_before_the_lever_was_pumped() -> None:
    """Prevented before any movement: not while open, nor refitted and not checked."""
    roll = '- step: roll\n  do: "Turn the machine round."\n  hazards: {event: machine-moved}\n'
    out, refitted, lever = (f"- step: {s}" for s in PADS.split("- step: ")[1:])
    assert codes(out + roll + refitted + lever) == {"moved-with-brake-open"}
    assert codes(out + refitted + roll + lever) == {"brake-not-checked"}
    bench = job(out + refitted + roll).run_to("roll")
    assert done(bench) == ("forbidden.brake-not-checked",)
    bench = job(PADS + roll).run_to("roll", Mode.STOP)
    assert bench.waits() == (Mode.STOP, "brake_proven")


def test_a07_lever_step_forgotten() -> None:
    """Prevented: a checklist without that step is refused, and its job would never be released."""
    forgotten = PADS.split("- step: lever", maxsplit=1)[0]
    assert codes(forgotten) == {"brake-not-checked"}
    bench = job(forgotten).run_to("", Mode.BEFORE_RELEASE)
    for _ in range(3):
        assert "release.hazards" in bench.hear("carry_on")
    assert bench.waits() == (Mode.BEFORE_RELEASE, "")
    bench = job(PADS).run_to("", Mode.STOP)
    assert bench.waits() == (Mode.STOP, "brake_proven")
    assert "Pads pumped out" in told(bench)


ANTI_LOCK = """\
options:
  abs: {ask: "Is anti-lock fitted?", default: false}
"""
BLEED = """\
- step: hose-off
  do: "Undo the brake hose."
  hazards: {brake: open}
- step: hose-on
  do: "Fit the brake hose and bleed the plain circuit."
  hazards: {brake: close}
- step: unit-bleed
  do: "Bleed the anti-lock unit by its own routine."
  when: {abs: true}
  hazards: {brake: close}
- step: lever-hold
  do: "Hold the brake lever."
  hazards: {brake: prove}
  hold: {time: "30 s", what: "lever firm"}
  readings:
    - {name: "lever travel", unit: mm, at_most: "25 mm"}
"""


def test_a08_air_left_in_anti_lock_units() -> None:
    """Caught after the unit's own bleeding: travel and firmness are taken after it, not before.

    A hand-bled lever that felt fair earlier counts for nothing: the brake is not proven yet.
    """
    assert not codes(BLEED, ANTI_LOCK)
    bench = job(BLEED, ANTI_LOCK, abs=True).run_to("unit-bleed")
    assert bench.state.progress.hazards.brake is Condition.CLOSED
    bench.hear("leave_out")
    assert bench.step() == "unit-bleed"
    done(bench)
    bench.hear("reading", number="40", unit="mm")
    bench.hear("affirm")
    assert done(bench) == ("reading.out_needs_decision",)
    stops = [placed.stop for placed in place_stops(bench.setting.plan)]
    assert stops == [Stop.BRAKE_OPEN, Stop.BRAKE_PROVEN, Stop.RELEASE]
    plain = job(BLEED, ANTI_LOCK)
    assert "unit-bleed" not in [planned.id for planned in plain.setting.plan.steps]


def test_a09_firm_at_rest_dragging_after_an_hour() -> None:
    """Caught at the brake stop: it asks that the wheel lets go too, and drag blocks the release."""
    text = stop_texts("en").stops[Stop.BRAKE_PROVEN]
    assert "wheel free" in text.read_back
    assert any("turns free" in demand for demand in text.demands)
    bench = job(PADS).run_to("", Mode.STOP)
    report(bench, "other", "firm, but the wheel drags")
    while bench.waits() == (Mode.STOP, "brake_proven"):
        bench.read_back()
    assert bench.state.mode is Mode.BEFORE_RELEASE


TANK = """\
- step: negative-off
  do: "Take the negative cable off."
  hazards: {battery: disconnect}
- step: tank-up
  do: "Raise the tank and prop it."
  hazards: {fuel: open}
- step: tank-down
  do: "Lower the tank."
  hazards: {fuel: close}
- step: leak-check
  do: "Look for a leak with the tank full."
  hazards: {fuel: prove}
- step: negative-on
  do: "Put the negative cable on."
  hazards: {battery: reconnect}
- step: voltage
  do: "Read the voltage."
  hazards: {battery: prove}
"""


def test_a10_tank_propped_for_days_hose_torn_leak_only_when_full() -> None:
    """Caught after the break, at the leak check's fill level, and at the smell.

    Days with the tank up make fuel unproven; the stop asks for the tank as it will leave; a
    smell, once said, is trouble that silence does not end.
    """
    assert not codes(TANK)
    bench = job(TANK).run_to("tank-down")
    bench.hear("stand_by")
    bench.wait(3 * 86_400)
    bench.hear("carry_on")
    assert bench.state.progress.hazards.fuel.plain == "unproven"
    bench.run_to("negative-on", Mode.STOP)
    assert bench.waits() == (Mode.STOP, "fuel_closed")
    assert "filled as it will leave" in told(bench)
    bench.read_back()
    assert bench.state.progress.hazards.fuel.plain == "safe"
    bench.hear("smell_of_fuel")
    assert bench.waits() == (Mode.STOP, "fuel_closed")
    bench.tick(60)  # nobody says anything
    assert bench.waits() == (Mode.STOP, "fuel_closed")
    bench.run_to("", Mode.BEFORE_RELEASE)
    assert [trouble.kind for trouble in bench.state.open_troubles()] == ["smell_of_fuel"]


def test_a11_static_from_a_strip_of_tape() -> None:
    """Caught before the cap comes off: the work is found by its words, the stop tells of vapor.

    It demands a proper cap on every opening, and never tape.
    """
    taped = '- step: cap-off\n  do: "Take the filler cap off and tape the hole."\n'
    assert "untagged-hazard" in codes(taped)
    bench = job(TANK).run_to("tank-up", Mode.STOP)
    bench.read_back()
    assert bench.waits() == (Mode.STOP, "fuel_open")
    assert "vapor" in told(bench)
    assert "Every opening closed with a proper cap. Never tape." in told(bench)
