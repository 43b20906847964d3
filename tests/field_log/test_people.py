"""Field log, replayed: hand-over and sides (A22, A23), signing and checking (A18, A26, A27)."""

from __future__ import annotations

from assistant.job.state import Mode
from assistant.job.summary import account
from tests.field_log.replay import codes, done, job, off, told

SCREWS = """\
- step: upper-row
  do: "Take the upper row of screws out."
  off:
    - {item: "upper row screw", count: 47}
- step: look
  do: "Look at the lower row."
- step: close
  do: "Drive the upper row of screws home."
  back:
    - {item: "upper row screw", count: 47}
"""


def test_a22_the_row_of_screws_nobody_mentioned() -> None:
    """Prevented at the hand-over: the off-list is read out, counted, and taken over by name."""
    assert codes(SCREWS.split("- step: close", maxsplit=1)[0]) == {"still-off"}
    bench = job(SCREWS).run_to("look")
    bench.hear("hand_over", name="ines")
    assert "Ines, this is what you take over" in told(bench)
    assert "upper row screw, forty seven of them" in told(bench)
    bench.hear("step_done")
    assert (bench.state.mode, bench.state.who) == (Mode.HAND_OVER, "mara")
    bench.hear("affirm")
    assert (bench.state.mode, bench.state.who) == (Mode.STANDING, "ines")
    bench.hear("affirm")
    done(bench)
    assert bench.step() == "close"  # from the list, however whole it looks from below
    bench.hear("leave_out")
    assert bench.step() == "close"
    assert off(bench) == {"upper row screw": 47}


SIDES = """\
- step: caliper-pins
  do: "{each} side: look at the dust boots."
  side: "{each}"
  each: ["left", "right"]
  parts:
    - {name: "plate of the unit", number: "ENG-1", read: true}
"""


def test_a23_right_serial_number_wrong_engine() -> None:
    """Prevented: the side is said back and the plate's number read; what differs stops the step."""
    bench = job(SIDES)
    bench.answer()
    assert "left side" in told(bench).lower()
    assert done(bench) == ("side.ask",)
    assert bench.hear("name_side", side="right") == ("side.differs",)
    assert done(bench) == ("side.ask",)
    assert bench.hear("name_side", side="left") == ("side.same",)
    assert done(bench) == ("number.needed",)
    bench.hear("read_part_number")
    assert "number.differs" in bench.hear("part_number", characters="ENG2")
    assert done(bench) == ("number.needed",)
    bench.hear("read_part_number")
    bench.hear("part_number", characters="ENG1")
    done(bench)
    assert bench.step() == "caliper-pins.right"  # one side twice doesn't make two sides
    assert "right side" in told(bench).lower()


NUT = """\
- step: bushing-nut
  do: "Tighten the nut of the bushing."
  fastener: {name: "retaining nut", thread: "M20 × 1.5"}
  torque: {value: "90 N·m", source: "test notes"}
  second_person: true
"""


def test_a18_five_people_misread_the_same_number() -> None:
    """Prevented: the second person is given step and torque anew, by the program, in full words."""
    bench = job(NUT)
    bench.answer()
    assert "ninety newton meters" in told(bench)
    done(bench)
    assert bench.state.mode is Mode.SECOND_PERSON
    assert "ninety newton meters" in told(bench)
    number = bench.number()
    bench.hear("what_torque")
    assert "ninety newton meters" in told(bench)
    assert bench.state.mode is Mode.SECOND_PERSON
    assert bench.number() == number


FLAPS = """\
- step: lever-position
  do: "Set the adjuster."
  minutes: 2
  readings:
    - {name: "adjuster position", unit: mm, at_least: "2 mm", at_most: "3 mm"}
- step: negative-off
  do: "Take the negative cable off."
  hazards: {battery: disconnect}
- step: negative-on
  do: "Put the negative cable on."
  hazards: {battery: reconnect}
- step: voltage
  do: "Read the voltage."
  hazards: {battery: prove}
"""


def test_a26_the_word_set_said_without_looking() -> None:
    """Caught at the line itself: it wants the value, asks about haste, and its number changes."""
    bench = job(FLAPS)
    bench.answer()
    assert "step.reading" in bench.hear("step_done")
    bench.hear("reading", number="7", unit="mm")
    bench.hear("affirm")
    assert done(bench) == ("reading.out_needs_decision",)
    bench.run_to("lever-position")
    bench.hear("reading", number="2.5", unit="mm")
    bench.hear("affirm")
    done(bench)
    bench.wait(1)
    assert bench.hear("step_done") == ("pace.ask",)
    bench.hear("affirm")
    assert bench.waits() == (Mode.STOP, "battery_off")
    number = bench.number()
    bench.read_back()
    bench.run_to("negative-on", Mode.STOP)
    assert bench.number() != number
    bench.read_back(number=number)  # the tune of last time
    assert bench.waits() == (Mode.STOP, "battery_on")


def test_a27_anyone_can_sign_the_confirmation() -> None:
    """Caught at the step: the second person, by name, with a fresh number, never the doer.

    Whose voice it was is not known from the sound; the record keeps name, time and clip.
    """
    bench = job(NUT, second="tobin")
    bench.answer()
    done(bench)
    assert "Tobin, look for yourself" in told(bench)
    for doer in ("step_done", "affirm", "leave_out"):
        bench.hear(doer)
        assert bench.state.mode is Mode.SECOND_PERSON
    stale = bench.number()
    bench.read_back(number="00")
    bench.read_back(number=stale)
    assert bench.state.mode is Mode.SECOND_PERSON
    bench.read_back()
    (entry,) = bench.state.progress.done
    assert (entry.who, entry.second) == ("mara", "tobin")
    assert account(bench.setting, bench.state)["steps"][0]["at"] == bench.events[-1].at.wall


def test_a27_the_doer_can_not_be_the_second() -> None:
    """Prevented at the step: nobody else there, no confirmation; who takes over changes places."""
    alone = job(NUT, second=None)
    alone.answer()
    assert "second.nobody" in done(alone)
    assert not alone.state.progress.done
    swapped = job(NUT, second="tobin")
    swapped.answer()
    swapped.hear("hand_over", name="tobin")
    swapped.hear("affirm")
    assert (swapped.state.who, swapped.state.second) == ("tobin", "mara")
