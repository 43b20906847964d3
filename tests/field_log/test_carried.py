"""Field log, replayed: what an earlier job left on the machine (A14), and the pace (A26)."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from assistant.accounts import account_of, account_text
from assistant.checklist.loader import load
from assistant.job.effects import Say
from assistant.job.events import Earlier, Event, Heard, Opened
from assistant.job.machine import advance
from assistant.job.serial import event_kind, from_data, to_data
from assistant.job.state import JobState, Mode
from assistant.job.summary import account
from assistant.language.intent import Intent
from assistant.opening import open_job, words_of
from assistant.report.page import page
from assistant.store.earlier import left_open, same_machine
from tests.field_log.replay import checklist, done, job, report, told
from tests.job.bench import ROSTER, Bench

LEAD = """\
- step: feed
  do: "Lay the accessory lead along the frame."
- step: fuse
  do: "Fit a fuse holder to the accessory lead."
  optional: true
- step: edges
  do: "Feel along both tank edges that nothing is trapped."
"""
ROOT = Path(__file__).parents[2]
NOW = "2026-03-14T23:00:00.000Z"


def recorded(
    jobs: Path, name: str, vehicle: str, play: Callable[[Bench], object], began: str = "2026-03-02"
) -> Path:
    """The record of a job on LEAD that was played; sealed when it was released."""
    opened = open_job(
        load({"small.yaml": checklist(LEAD)}, "small.yaml"), {}, ROSTER,
        now=(f"{began}T10:00:00.000Z", 1.0), engine="keys", jobs=jobs, job=name,
    )  # fmt: skip
    bench = Bench(opened.setting, second="tobin")
    first = bench.events[0]
    assert isinstance(first, Opened)
    bench.events[0] = replace(first, job=name, vehicle=vehicle)
    play(bench)
    for event in bench.events:
        wall = began + event.at.wall[10:].replace("Z", ".000Z")
        opened.keeper.append(event_kind(event), to_data(event), wall, event.at.mono)
    if bench.state.mode is Mode.RELEASED:
        opened.keeper.seal(f"{began}T23:59:00.000Z", bench.now + 1)
    opened.keeper.journal.close()
    return jobs / name


def hurried(bench: Bench) -> None:
    """A makeshift feed: taped for now, the fuse left out because it isn't here."""
    bench.answer()
    report(bench, "damaged-part", "lead taped for now")
    bench.hear("trouble_cleared")
    done(bench)
    bench.hear("leave_out")
    bench.hear("leave_out_reason", reason="part-not-here")
    bench.finish()


def proper(bench: Bench) -> None:
    """Everything done."""
    bench.finish()


def next_job(jobs: Path, vehicle: str = "wren7") -> tuple[Earlier, ...]:
    """What the next job on this machine is told."""
    return left_open(jobs, jobs.parent / "index.sqlite", vehicle, NOW)


def test_a14_a_lead_without_a_fuse_is_told_to_the_next_job(tmp_path: Path) -> None:
    """Caught at the next job on the machine: said when it begins, written down, and reported."""
    recorded(tmp_path / "jobs", "one", "WREN 7", hurried)
    recorded(tmp_path / "jobs", "two", "WREN 8", hurried)
    found = next_job(tmp_path / "jobs")
    assert [(e.job, e.kind, e.what, e.days) for e in found] == [
        ("one", "makeshift", "damaged part", 12),
        ("one", "left-out", "Fit a fuse holder to the accessory lead.", 12),
    ]
    assert [e.more for e in found] == ["lead taped for now", "part not here yet"]
    bench = job(LEAD)
    first = bench.events[0]
    assert isinstance(first, Opened)
    later = replace(first, vehicle="wren7", earlier=found)

    def played(new: Bench) -> None:
        new.events[0] = replace(later, job="next")
        new.finish()

    folder = recorded(tmp_path / "jobs", "next", "", played, "2026-03-14")
    facts = account_of(folder)
    assert [row["what"] for row in facts["earlier"]] == [e.what for e in found]
    assert any("lead taped for now" in text for text in account_text(facts))
    html = page(facts)
    assert "Left open by earlier jobs on this machine" in html
    assert "lead taped for now" in html


def test_a14_it_is_said_before_anything_else(tmp_path: Path) -> None:
    """With what it is and how long ago; what somebody typed is in the report and never said."""
    recorded(tmp_path / "jobs", "one", "WREN 7", hurried)

    bench = job(LEAD)
    first = bench.events[0]
    assert isinstance(first, Opened)
    first = replace(first, earlier=next_job(tmp_path / "jobs"))
    _, effects = advance(bench.setting, JobState(), first)
    words = words_of("en")
    said = [words.spoken(one) for e in effects if isinstance(e, Say) for one in e.lines]
    assert "two" in said[1]
    assert "damaged part" in said[2]
    assert "fuse holder" in said[3]
    assert "taped" not in " ".join(said)


def test_a14_by_the_command(tmp_path: Path) -> None:
    """`gloveson start` on the machine shows it first, and it is in the new job's journal."""
    recorded(tmp_path / "jobs", "one", "WREN 7", hurried)
    (tmp_path / "small.yaml").write_text(checklist(LEAD), encoding="utf-8")
    command = ["start", "small.yaml", "--typed", "--who", "Mara", "--vehicle", "wren 7"]
    ran = subprocess.run(
        [sys.executable, "-m", "assistant.cli.main", *command, "--job", "next"],
        input="affirm\n", capture_output=True, text=True, timeout=300, check=False, cwd=tmp_path,
        env={**os.environ, "GLOVESON_HOME": str(tmp_path), "PYTHONPATH": str(ROOT)},
    )  # fmt: skip
    said = ran.stderr
    assert ran.returncode == 1, said  # stopped: nobody typed more
    assert said.index("Left open on this machine by earlier jobs: 2.") < said.index("Fit a fuse")
    assert said.index("Fit a fuse") < said.index("How is the machine held?")
    assert len(account_of(tmp_path / "jobs" / "next")["earlier"]) == 2


def test_what_a_later_job_did_is_told_no_more(tmp_path: Path) -> None:
    """The step that was left out was done since; what was taped is still told."""
    recorded(tmp_path / "jobs", "one", "WREN 7", hurried)
    recorded(tmp_path / "jobs", "two", "wren-7", proper, "2026-03-09")
    assert [(e.job, e.kind) for e in next_job(tmp_path / "jobs")] == [("one", "makeshift")]


def test_a_job_that_was_stopped_leaves_its_trouble(tmp_path: Path) -> None:
    """It was never put right, and never released."""

    def stopped(bench: Bench) -> None:
        bench.answer()
        report(bench, "leak", "weeps")

    recorded(tmp_path / "jobs", "one", "WREN 7", stopped)
    (found,) = next_job(tmp_path / "jobs")
    assert (found.kind, found.what, found.more) == ("trouble", "found a leak", "weeps")


@pytest.mark.parametrize("vehicle", ["", " - ", "WREN 70", "%"])
def test_nothing_of_another_machine(tmp_path: Path, vehicle: str) -> None:
    """No name, or another, finds nothing."""
    recorded(tmp_path / "jobs", "one", "WREN 7", hurried)
    assert next_job(tmp_path / "jobs", vehicle) == ()


def test_one_machine_by_its_name() -> None:
    """Spaces, hyphens and capitals are how people write, not another machine."""
    assert same_machine("WREN 7", "wren-7")
    assert not same_machine("WREN 7", "WREN 1")
    assert not same_machine("", "")


def test_what_was_told_comes_back_from_the_journal() -> None:
    """Event to data and back; a job without anything earlier is written as before."""
    bench = job(LEAD)
    first = bench.events[0]
    assert isinstance(first, Opened)
    assert "earlier" not in to_data(first)
    told_of = replace(first, earlier=(Earlier("one", NOW, 3, "trouble", "found a leak", "x"),))
    back: Event = from_data("opened", to_data(told_of), told_of.at.wall, told_of.at.mono)
    assert back == told_of
    for wrong in ({"kind": "nothing"}, {"what": 7}, {"kind": ["trouble"]}, {"other": ""}):
        data = to_data(told_of)
        data["earlier"] = [{**data["earlier"][0], **wrong}]
        with pytest.raises(ValueError, match="not an event"):
            from_data("opened", data, told_of.at.wall, told_of.at.mono)


def test_a26_confirmations_quicker_than_the_work_are_in_the_report(tmp_path: Path) -> None:
    """Caught when the record is read: each was asked about, and is marked with its seconds."""

    def in_a_hurry(bench: Bench) -> None:
        bench.answer()
        bench.happens(Heard(bench.stamp(), Intent("step_done")))
        assert bench.state.mode is Mode.PACE_CHECK
        bench.hear("affirm")
        bench.finish()

    facts = account_of(recorded(tmp_path, "one", "WREN 7", in_a_hurry))
    (quick,) = facts["quick"]
    assert quick["step"] == "feed"
    assert quick["seconds"] < quick["least"]
    assert "Confirmed quicker than the work takes" in page(facts)
    bench = job(LEAD).finish()
    assert account(bench.setting, bench.state)["quick"] == []
    assert told(bench)
