"""Field log, replayed: put back wrong (A04, A05, A06) and led wrong (A15, A16)."""

from __future__ import annotations

import pytest

from assistant.job.state import Mode
from tests.field_log.replay import codes, done, job, off, report, told

SPACER = """\
- step: axle-out
  do: "Draw the axle out."
  off:
    - {item: "left spacer", mark: "long end out"}
- step: axle-in
  do: "Fit the left spacer and torque the axle."
  readings:
    - {name: "gap between spacer and hub", unit: mm, at_most: "0 mm"}
  back:
    - {item: "left spacer"}
"""


def test_a04_a_spacer_the_wrong_way_round() -> None:
    """Caught at fitting: the side is told when it comes off, and a gap at the hub is measured."""
    bench = job(SPACER)
    bench.answer()
    assert "long end out" in told(bench)
    done(bench)
    (spacer,) = bench.state.progress.off.open_items()
    assert spacer.mark == "long end out"
    assert "step.reading" in done(bench)  # the torque alone proves nothing
    bench.hear("reading", number="3", unit="mm")
    bench.hear("affirm")
    assert done(bench) == ("reading.out_needs_decision",)
    assert off(bench) == {"left spacer": 1}
    bench.hear("reading", number="0", unit="mm")
    bench.hear("affirm")
    done(bench)
    assert not off(bench)


COLLAR = """\
- step: collar
  do: "Close the collar on its key."
  cautions:
    - {signal: CAUTION, text: "The key is hidden once the cover is on. Look at it now."}
- step: snap
  do: "Open the throttle and let go: {each}."
  each: ["bars straight", "bars full left", "bars full right"]
"""


def test_a05_a_keyed_collar_that_goes_together_wrong() -> None:
    """Caught at the snap test: three steering angles, each by itself; sticky blocks the release."""
    bench = job(COLLAR)
    bench.answer()
    assert "The key is hidden" in told(bench)
    bench.run_to("snap.bars-full-left")
    bench.hear("leave_out")
    assert bench.step() == "snap.bars-full-left"
    report(bench, "other", "a little sticky")
    done(bench)
    assert bench.step() == "snap.bars-full-right"
    done(bench)
    assert bench.state.mode is Mode.BEFORE_RELEASE


BRAKE_UNIT = """\
- step: unit
  do: "Have the unit in hand."
  parts:
    - {name: "rear brake unit", number: "BU-41297", read: true}
"""


def test_a06_a_brake_unit_one_digit_away() -> None:
    """Prevented: the part's own number must be read aloud, and one digit out opens a trouble."""
    bench = job(BRAKE_UNIT)
    bench.answer()
    assert done(bench) == ("number.needed",)
    bench.hear("read_part_number")
    assert "number.differs" in bench.hear("part_number", characters="BU41299")
    assert [trouble.kind for trouble in bench.state.open_troubles()] == ["wrong-part"]
    bench.hear("read_part_number")
    assert "number.same" in bench.hear("part_number", characters="BU41297")
    done(bench)
    assert bench.state.progress.done[-1].step == "unit"


TANK_DOWN = """\
- step: straps
  do: "Count the straps that hold the line in its clip."
  readings:
    - {name: "straps on the line", unit: pcs, at_least: "2 pcs"}
- step: lower
  do: "Let the cover down."
- step: steering
  do: "Turn the bars: {each}."
  each: ["full left", "full right"]
"""


def test_a15_brake_line_under_the_tank_edge() -> None:
    """Prevented before lowering: the straps are counted, and one too few holds the step open."""
    bench = job(TANK_DOWN)
    bench.answer()
    bench.hear("reading", number="1", unit="pcs")
    bench.hear("affirm")
    assert done(bench) == ("reading.out_needs_decision",)
    assert bench.step() == "straps"
    bench.hear("reading", number="2", unit="pcs")
    bench.hear("affirm")
    bench.run_to("steering.full-left").run_to("steering.full-right")


HANDLEBAR = """\
- step: bar-off
  do: "Lay the old bar aside."
  off:
    - {item: "throttle cable path", how: loosened, mark: "round the front of the fork leg"}
- step: bar-on
  do: "Set the new bar on its clamps."
- step: full-lock
  do: "Turn the bars to both ends. Nothing pulls or is pinched."
  back:
    - {item: "throttle cable path"}
- step: roll
  do: "Roll the machine out."
  hazards: {event: machine-moved}
"""
NOT_ROLLED = """\
interlocks:
  - interlock: path-first
    says: "The cable's path has not been tried at full lock."
    blocks: [roll]
    while_off: ["throttle cable path"]
    while_trouble: [does-not-fit]
"""


def test_a16_cable_behind_the_fork_instead_of_round_the_front() -> None:
    """Caught at full lock, before it is rolled: the path is told as it comes off and stays open.

    Pinched cables are trouble, and an interlock lets nobody roll the machine while it is open.
    """
    assert not codes(HANDLEBAR, NOT_ROLLED)
    bench = job(HANDLEBAR, NOT_ROLLED)
    bench.answer()
    assert "round the front of the fork leg" in told(bench)
    bench.run_to("full-lock")
    assert off(bench) == {"throttle cable path": 1}
    bench.hear("leave_out")
    assert bench.step() == "full-lock"
    report(bench, "does-not-fit", "pinched at full right")
    done(bench)
    assert done(bench) == ("interlock.blocked",)
    assert bench.step() == "roll"
    bench.hear("trouble_cleared")
    done(bench)
    assert bench.waits() == (Mode.STOP, "release")


@pytest.mark.parametrize("missing", ["bar-on", "full-lock"])
def test_a16_without_the_full_lock_test(missing: str) -> None:
    """Prevented before the job: without the step that ends it the path is open, says `check`."""
    kept = [part for part in HANDLEBAR.split("- step: ") if part and not part.startswith(missing)]
    found = codes("".join(f"- step: {part}" for part in kept))
    assert ("still-off" in found) is (missing == "full-lock")
