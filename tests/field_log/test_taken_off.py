"""Field log, replayed: taken off and not put back (A01, A02, A03), tools and parts left inside."""

from __future__ import annotations

from assistant.job.state import Mode
from tests.field_log.replay import codes, done, job, off, report, told

SHOCK = """\
- step: shock-bolt-out
  do: "Undo the lower shock bolt."
  off:
    - {item: "lower shock bolt", how: loosened}
- step: shock-bolt-in
  do: "Slide the lower shock bolt into its hole."
- step: axle
  do: "Fit the rear axle and torque its nut."
- step: shock-bolt-torque
  do: "Tighten the lower shock bolt."
  optional: true
  fastener: {name: "lower shock bolt", thread: "M10 × 1.25"}
  torque: {value: "44 N·m", source: "test notes"}
  back:
    - {item: "lower shock bolt"}
"""


def test_a01_a_bolt_pushed_in_but_never_tightened() -> None:
    """Caught before the release: a bolt in its hole is still off; only its torque clears it."""
    bench = job(SHOCK)
    bench.run_to("axle")
    bench.hear("stand_by")
    bench.wait(1800)
    bench.hear("carry_on")
    bench.hear("affirm")
    bench.hear("what_is_off")
    assert "lower shock bolt" in told(bench)
    done(bench)
    bench.hear("leave_out")
    bench.hear("leave_out_reason", reason="done-before")  # "I did that already"
    assert bench.state.mode is Mode.BEFORE_RELEASE
    assert "lower shock bolt" in told(bench)
    bench.hear("carry_on")
    assert bench.state.mode is Mode.BEFORE_RELEASE


def test_a01_a_checklist_that_forgets_the_torque() -> None:
    """Prevented before the job: `check` finds the bolt that no step tightens, or need not."""
    forgotten = SHOCK.split("- step: shock-bolt-torque", maxsplit=1)[0]
    assert codes(forgotten) == {"still-off"}
    assert codes(SHOCK) == {"still-off", "optional-off-list"}  # the torque may be left out
    assert not codes(SHOCK.replace("  optional: true\n", ""))


CALIPER = """\
- step: caliper-off
  do: "Undo both bolts and hang the front caliper on a hook."
  hazards: {brake: open}
  off:
    - {item: "front caliper bolt", count: 2}
- step: caliper-on
  do: "Bolt the front caliper to the fork, {each} bolt."
  each: ["upper", "lower"]
  fastener: {name: "front caliper bolt", thread: "M8 × 1.25"}
  torque: {value: "25 N·m", source: "test notes"}
  readings:
    - {name: "wrench set to", unit: "N·m", at_least: "24 N·m", at_most: "26 N·m"}
  hazards: {brake: close}
  back:
    - {item: "front caliper bolt"}
- step: lever-hold
  do: "Hold the front brake lever."
  hazards: {brake: prove}
  hold: {time: "30 s", what: "lever firm"}
"""


def test_a02_both_bolts_of_a_front_caliper_left_finger_loose() -> None:
    """Caught at each bolt: a value is wanted, nothing is left out, then hold and brake stop."""
    assert not codes(CALIPER)
    bench = job(CALIPER).run_to("caliper-on.upper")
    assert off(bench) == {"front caliper bolt": 2}
    for bolt in ("caliper-on.upper", "caliper-on.lower"):
        assert bench.step() == bolt
        assert "step.reading" in done(bench)  # a bare "step complete" is not enough
        bench.hear("leave_out")
        assert bench.waits() == (Mode.STEP, bolt)
        bench.hear("reading", number="25", unit="N·m")
        bench.hear("affirm")
        done(bench)
    assert done(bench) == ("hold.needed",)
    bench.run_to("", Mode.STOP)
    assert bench.waits() == (Mode.STOP, "brake_proven")
    assert "wheel" in told(bench)
    assert {"optional-hazard"} <= codes(CALIPER.replace("  each:", "  optional: true\n  each:"))


ROTATING = """\
- step: assembly-out
  do: "Take the bolts of the rotating assembly out."
  off:
    - {item: "assembly bolt", count: 4, where: "tray two"}
- step: assembly-set
  do: "Set the rotating assembly in its place."
- step: cover-on
  do: "Fit the cover."
- step: bolts-in
  do: "Fit the bolts of the rotating assembly."
  back:
    - {item: "assembly bolt", count: 4}
"""
NO_COVER = """\
interlocks:
  - interlock: no-cover
    says: "Bolts under this cover are still off."
    blocks: [cover-on]
    while_off: ["assembly bolt"]
"""


def test_a03_bolts_in_someone_elses_box_holes_covered_by_the_next_part() -> None:
    """Prevented before the cover: no cover while anything under it is off, counted and placed.

    `check` finds an order that would cover the empty holes; at the bench the cover is refused.
    """
    assert "interlock" in codes(ROTATING, NO_COVER)
    bench = job(ROTATING, NO_COVER).run_to("cover-on")
    assert "still off" in told(bench)
    assert done(bench) == ("interlock.blocked",)
    bench.hear("leave_out")
    assert bench.step() == "cover-on"
    (bolts,) = bench.state.progress.off.open_items()
    assert (bolts.count, bolts.where) == (4, "tray two")
    out, placed, cover, bolted = (f"- step: {s}" for s in ROTATING.split("- step: ")[1:])
    assert not codes(out + placed + bolted + cover, NO_COVER)


TAPPETS = """\
- step: feeler-in
  do: "Lay the feeler gauges out."
  off:
    - {item: "feeler gauge", count: 2, how: inside}
- step: five-minute-fix
  do: "Set the tappets."
- step: tools-out
  do: "Count the tools."
  back:
    - {item: "feeler gauge", count: 2}
"""


def test_a24_borrowed_without_signing() -> None:
    """Caught at the count: tools that went in must come out, one fetched by voice as well.

    A tool that nobody names is only asked for by the words of the release.
    """
    assert codes(TAPPETS.split("- step: tools-out", maxsplit=1)[0]) == {"still-off"}
    bench = job(TAPPETS).run_to("five-minute-fix")
    assert off(bench) == {"feeler gauge": 2}
    bench.hear("also_off")
    bench.hear("other_part")
    bench.dictate(text="borrowed wrench")
    bench.hear("name_count", cardinal="1")
    bench.hear("affirm")
    done(bench)
    done(bench)
    assert off(bench) == {"borrowed wrench, added by voice": 1}
    assert bench.state.mode is Mode.BEFORE_RELEASE
    assert "borrowed wrench" in told(bench)
    bench.hear("back_on")
    bench.hear("other_part")
    bench.hear("affirm")
    assert bench.waits() == (Mode.STOP, "release")
    assert "every tool and rag is back" in told(bench)


STARTER = """\
- step: look
  do: "Look the starter over."
- step: start
  do: "Start the engine."
  hazards: {event: engine-start}
"""
NO_START = """\
interlocks:
  - interlock: part-lost
    says: "A part is lost where the engine turns. Find it first."
    blocks: [start]
    while_trouble: [dropped-part, missing-tool]
"""


def test_a25_the_nut_in_the_pocket_by_the_starter() -> None:
    """Prevented before the engine starts: a dropped part is open trouble that blocks the start."""
    assert not codes(STARTER, NO_START)
    bench = job(STARTER, NO_START)
    bench.answer()
    report(bench, "dropped-part", "nut fell by the starter")
    done(bench)
    assert bench.step() == "start"
    assert "Find it first" in told(bench)
    assert done(bench) == ("interlock.blocked",)
    bench.hear("trouble_cleared")
    done(bench)
    assert bench.waits() == (Mode.STOP, "release")
