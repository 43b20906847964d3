"""Field log, replayed: battery and wiring (A12, A13, A14), torque and tools, readings, support."""

from __future__ import annotations

from dataclasses import replace

from assistant.checklist.model import Reading
from assistant.job.measure import is_within
from assistant.job.state import Mode, ShopWrench
from assistant.language.grammar import build_grammar
from assistant.packaged import phrasebook
from assistant.trade.quantity import Quantity
from assistant.trade.wrenches import TorqueWrench
from tests.field_log.replay import codes, done, job, report, told
from tests.job.bench import Bench

NEW_BATTERY = """\
- step: negative-off
  do: "Take the negative cable off."
  hazards: {battery: disconnect}
  off:
    - {item: "negative cable", mark: "negative post right, seen from the seat"}
- step: positive-on
  do: "Bolt the positive cable to its post."
  hazards: {battery: needs-isolated}
  readings:
    - {name: "voltage at the cable ends", unit: V, at_least: "12.2 V",
       condition: "red lead on the red cable"}
- step: negative-on
  do: "Put the negative cable on."
  hazards: {battery: reconnect}
  back:
    - {item: "negative cable"}
- step: voltage
  do: "Read the resting voltage."
  hazards: {battery: prove}
  readings:
    - {name: "resting voltage", unit: V, at_least: "12.4 V"}
"""


def test_a12_battery_in_back_to_front() -> None:
    """Caught before the negative goes on: the voltage with its sign is a reading of its own.

    A reversed battery reads below zero: no such number can be said as a reading, and none
    would be within limits, so the negative cable's step never opens.
    """
    assert not codes(NEW_BATTERY)
    bench = job(NEW_BATTERY).run_to("negative-off")
    assert "negative post right" in told(bench)
    bench.run_to("positive-on")
    assert "step.reading_condition" in done(bench)
    grammar = build_grammar(phrasebook("en"), ["reading"])
    assert grammar.match("reading one two point six volts") is not None
    assert grammar.match("reading minus one two point six volts") is None
    wanted = bench.setting.plan.steps[1].step.readings[0]
    assert not is_within(wanted, Quantity.parse("-12.6 V"))
    report(bench, "does-not-fit", "the meter shows minus")
    assert "step.reading_condition" in done(bench)
    assert bench.step() == "positive-on"
    bench.run_to("negative-on", Mode.STOP)
    assert bench.waits() == (Mode.STOP, "battery_on")
    assert "Positive on its own post" in told(bench)


SWITCH = """\
- step: switches
  do: "Work through its whole travel, eyes on the fuse: {each}."
  each: ["left signal", "right signal", "horn", "beam"]
  least_seconds: 5
"""


def test_a13_a_wire_on_the_wrong_side_of_a_bracket() -> None:
    """Caught at the switches: every movement is a step of its own and too quick is asked about.

    The fuse that blows on one movement only is trouble that blocks the release.
    """
    bench = job(SWITCH).run_to("switches.right-signal")
    bench.wait(1)
    assert bench.hear("step_done") == ("pace.ask",)
    bench.hear("negative")
    report(bench, "other", "fuse blew")
    for _ in range(3):
        done(bench)
    assert bench.state.mode is Mode.BEFORE_RELEASE
    assert [trouble.step for trouble in bench.state.open_troubles()] == ["switches.right-signal"]


PINCHED = """\
- step: lower
  do: "Let the cover down on its rubbers."
- step: edges
  do: "Feel along both edges. Turn the bars both ways. Nothing is trapped."
- step: ignition
  do: "Turn the ignition on."
  hazards: {event: ignition-on}
"""
NO_IGNITION = """\
interlocks:
  - interlock: nothing-trapped
    says: "A lead may be trapped or has no fuse."
    blocks: [ignition]
    while_trouble: [other, damaged-part]
    while_not_done: [edges]
"""


def test_a14_accessory_lead_pinched_when_the_tank_came_down() -> None:
    """Caught after lowering: edges and bars are a step; no ignition before it or on its trouble."""
    assert not codes(PINCHED, NO_IGNITION)
    lower, edges, ignition = (f"- step: {s}" for s in PINCHED.split("- step: ")[1:])
    assert "interlock" in codes(lower + ignition + edges, NO_IGNITION)
    bench = job(PINCHED, NO_IGNITION).run_to("edges")
    bench.hear("leave_out")
    assert bench.step() == "edges"
    report(bench, "other", "added lead without a fuse")
    done(bench)
    assert done(bench) == ("interlock.blocked",)
    bench.hear("trouble_cleared")
    done(bench)
    assert bench.waits() == (Mode.STOP, "release")


MOUNT = """\
- step: mount
  do: "Tighten the mount."
  fastener: {name: "mount bolt", thread: "M12 × 1.25", drive: "13 mm socket"}
  torque: {value: "1000 lbf·in", source: "test notes"}
  readings:
    - {name: "wrench set to", unit: "lbf·ft", at_least: "800 lbf·in", at_most: "1140 lbf·in"}
"""


def test_a17_a_conversion_done_in_the_head_and_checked_in_the_head() -> None:
    """Caught at the setting: told in the wrench's unit, and the spoken setting is judged.

    1000 inch pounds are 83.3 foot pounds; 42 foot pounds are 504 inch pounds, below 800. An
    inch pound is a twelfth of a foot pound.
    """
    bench = job(MOUNT)
    bench.answer()
    bench.hear("convert", torque_unit="lbf·ft")
    assert bench.value("answer.converted", "value") == "83.3 lbf·ft"
    bench.hear("reading", number="42", unit="lbf·ft")
    bench.hear("affirm")
    assert done(bench) == ("reading.out_needs_decision",)
    bench.hear("reading", number="83", unit="lbf·ft")
    bench.hear("affirm")
    done(bench)
    assert bench.waits() == (Mode.STOP, "release")


def test_a19_the_next_size_of_socket() -> None:
    """Caught before the pull: the socket's size is told before the torque, and again on asking."""
    bench = job(MOUNT)
    bench.answer()
    said = told(bench)
    assert said.index("thirteen millimeter socket") < said.index("one thousand inch pounds")
    bench.hear("what_size")
    assert "thirteen millimeter socket" in told(bench)


def test_a20_the_good_wrench_broke_so_the_old_one_was_used() -> None:
    """Prevented: a change of wrench is judged like a reading; one past its date is not taken.

    Said as trouble, the broken one blocks the release too.
    """
    scale = Quantity.parse("150 N·m")
    shop = (
        ShopWrench(TorqueWrench("good wrench", scale)),
        ShopWrench(TorqueWrench("spare wrench", scale), "2025-12-31", past_calibration=True),
    )
    bench = Bench(replace(job(MOUNT).setting, wrenches=shop))
    bench.answer()
    assert bench.value("step.wrench", "wrench") == "good wrench"
    assert bench.hear("use_wrench", wrench="spare wrench") == ("wrench.past_calibration",)
    assert bench.state.wrench == ""
    report(bench, "missing-tool", "good wrench broke, the spare is past its date")
    bench.run_to("", Mode.BEFORE_RELEASE)
    (trouble,) = bench.state.open_troubles()
    assert (trouble.step, trouble.text) == (
        "mount",
        "good wrench broke, the spare is past its date",
    )


TIRES = """\
- step: tires-on
  do: "Fit the tires."
- step: pressure
  do: "Set the pressure, {each}."
  each: ["front", "rear"]
  readings:
    - {name: "pressure", unit: kPa, at_least: "240 kPa", at_most: "260 kPa", condition: "cold"}
"""


def test_a21_the_pressure_that_was_to_be_set_afterwards() -> None:
    """Prevented before the release: a required reading is never left for later, whoever does it."""
    bench = job(TIRES).run_to("pressure.front")
    assert "step.reading_condition" in done(bench)
    for way in ("leave_out", "carry_on", "go_back"):
        bench.hear(way)
        assert bench.state.mode is Mode.STEP
    bench.run_to("pressure.front")
    (wanted,) = bench.setting.plan.steps[1].step.readings
    assert isinstance(wanted, Reading)
    bench.measure(wanted, "90 kPa")
    assert done(bench) == ("reading.out_needs_decision",)
    bench.measure(wanted, "250 kPa")
    done(bench)
    assert bench.step() == "pressure.rear"


LIFT = """\
- step: rear-wheel
  do: "Take the rear wheel out."
  shifts_balance: true
  off:
    - {item: "rear wheel"}
- step: lift-down
  do: "Lower the lift."
  shifts_balance: true
  hazards: {event: machine-moved}
- step: wheel-in
  do: "Fit the rear wheel."
  back:
    - {item: "rear wheel"}
"""


def test_a43_on_the_lift_on_its_stand_not_strapped() -> None:
    """Prevented before the first step and after each shift: how it is held is asked anew.

    The assistant asks; that the strap is really on is the technician's word.
    """
    bench = job(LIFT)
    assert bench.state.mode is Mode.STANDING
    bench.hear("step_done")
    bench.hear("negative")
    assert bench.state.mode is Mode.STANDING
    bench.hear("affirm")
    done(bench)
    assert bench.state.mode is Mode.STANDING
    assert bench.step() == "lift-down"
    bench.hear("affirm")
    done(bench)
    assert bench.state.mode is Mode.STANDING
