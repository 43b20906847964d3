"""What became of a job."""

from __future__ import annotations

import json

from assistant.accounts import account_text
from assistant.job.state import Mode
from assistant.job.summary import account, confirmed_steps, open_things, status
from tests.job.bench import ALL_HAZARDS, Bench, at_step, setting


def test_a_released_job() -> None:
    """Released, nothing open, every step, stop, reading and torque with when and who."""
    bench = Bench().finish()
    told = account(bench.setting, bench.state)
    json.dumps(told)
    assert status(bench.state) == told["status"] == "released"
    assert told["open"] == {"off": 0, "hazards": 0, "troubles": 0, "readings": 0}
    assert confirmed_steps(bench.state) == len(told["steps"]) == 12
    assert [s["stop"] for s in told["safety_stops"]][-1] == "release"
    assert [(r["value"], r["within"]) for r in told["readings"]] == [
        ("12.4 V", True),
        ("3 31/32 mm", True),
    ]
    assert [(t["step"], t["value"], t["source"]) for t in told["torques"]] == [
        ("hose-on", "22 N·m", "test notes")
    ]
    assert told["steps"][4]["second"] == "tobin"
    assert told["checklist"]["sha256"] == bench.setting.plan.sha256
    assert told["ended"]


def test_a_stopped_job_counts_what_is_open() -> None:
    """Not released is stopped where it is, with what is off, open, in trouble and missing."""
    bench = at_step("hose-on")
    for name in ("also_off", "name_part", "name_count", "affirm", "report_trouble"):
        bench.hear_any(name)
    bench.hear_any("trouble_kind")
    bench.dictate(2.0, "it weeps")
    told = account(bench.setting, bench.state)
    assert told["status"] == "stopped"
    assert open_things(bench.setting, bench.state) == {
        "off": 4,  # cable, hose and two bolts
        "hazards": 2,
        "troubles": 1,
        "readings": 0,
    }
    assert told["troubles"][0]["text"] == "it weeps"
    assert {entry["item"] for entry in told["off"]} == {
        "negative cable",
        "brake hose",
        "bolt, added by voice",
    }


def test_a_step_done_twice_counts_once() -> None:
    """A reopened step is in the account twice, but it is one step."""
    bench = at_step("wipe-down")
    for name in ("report_trouble", "trouble_kind"):
        bench.hear_any(name)
    bench.dictate()
    bench.hear("trouble_cleared")
    bench.run_to("wipe-down", Mode.STEP)
    done = [entry.step for entry in bench.state.progress.done]
    assert done.count("pad-wear") == 2
    assert confirmed_steps(bench.state) == 11


def test_what_was_left_out_is_told() -> None:
    """With its reason, by whom."""
    bench = at_step("look-round")
    bench.hear("leave_out")
    bench.hear_any("leave_out_reason")
    (gone,) = account(bench.setting, bench.state)["left_out"]
    assert (gone["step"], gone["reason"], gone["who"]) == ("look-round", "not-needed", "mara")


def test_a_reason_against_a_hazard_tag_is_told() -> None:
    """Why a step that sounds like hazard work has no tag stands in the account, in both forms."""
    reason = "Only the outside is looked at."
    text = ALL_HAZARDS.replace(
        'do: "Look the machine over."',
        f'do: "Look the machine over."\n        hazard_reason: "{reason}"',
    )
    bench = Bench(setting(text))
    told = account(bench.setting, bench.state)
    assert told["hazard_reasons"] == [{"step": "look-round", "reason": reason}]
    record: dict[str, object] = {
        "sound": {"kept": True, "removed": []},
        "clock_set": [],
        "seal": None,
    }
    lines = list(account_text({**told, **record}))
    assert f"  look-round: {reason}" in lines
    without = Bench()
    assert account(without.setting, without.state)["hazard_reasons"] == []
