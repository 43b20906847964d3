"""The account of a job: its record replayed, the facts listed."""

from __future__ import annotations

import tracemalloc
from pathlib import Path

import pytest

from assistant.accounts import account_of, account_text, timeline_of
from assistant.bay import Bay
from assistant.checklist.loader import load
from assistant.errors import RecordDamaged
from assistant.job.events import Opened
from assistant.opening import OpenJob, open_job, resume_job
from assistant.ports import Ports
from assistant.record.folder import JOURNAL
from assistant.record.seal import fingerprint
from assistant.speaking.testing import ScriptedMouth
from assistant.testing import ScriptedClock, ScriptedEar, ScriptedKeys
from tests.bays import Shop, fresh_numbers
from tests.job.bench import ALL_HAZARDS, ROSTER
from tests.record.long_job import long_job

NOW = ("2026-03-02T10:00:00.000Z", 5.0)


def _work(tmp_path: Path) -> tuple[OpenJob, Shop]:
    """A job on the disk, opened, with a note, a trouble, a reading out of limits, a step left."""
    loaded = load({"small.yaml": ALL_HAZARDS}, "small.yaml")
    job = open_job(loaded, {}, ROSTER, now=NOW, engine="keys", jobs=tmp_path, job="one")
    clock, keys, ear, numbers = ScriptedClock(), ScriptedKeys(), ScriptedEar(), fresh_numbers()
    shown: list[str] = []
    mouth = ScriptedMouth()
    ports = Ports(mouth, job.keeper, clock, lambda: next(numbers), shown.append, ear=ear, keys=keys)
    bay = Bay(job.setting, job.words, ports, job.state)
    made = Shop(bay, mouth, job.keeper, clock, keys, ear, shown, [])  # type: ignore[arg-type] # a real keeper
    bay.begin(lambda: Opened(bay.stamp(), "one", "WREN\x1b[2J 7", "mara", "tobin"))
    return job, made


def _until(made: Shop, step: str) -> None:
    """Confirm and read back until this step is open."""
    for _ in range(60):
        made.work(300)
        if made.bay.state.challenge is not None:
            made.work(-295).type(made.read_back())
        elif made.step() == step:
            return
        else:
            made.type("step complete")
    raise AssertionError(f"{step} is never open: {made.shown[-5:]}")


@pytest.fixture
def told(tmp_path: Path) -> Path:
    """The folder of a job that is under way."""
    job, made = _work(tmp_path)
    made.say("affirm").type("leave this step out", "inspected and not needed")
    made.type("take a note", "scratch\x1b[2J on the tank")
    made.type("report trouble", "stripped thread", "at the terminal bolt")
    made.type("trouble is cleared", "smell of fuel")
    made.say("mumble")
    job.keeper.journal.close()
    return tmp_path / "one"


def test_the_account_tells_what_happened(told: Path) -> None:
    """Left-out steps, notes and troubles are listed with who, when and whether put right."""
    account = account_of(told)
    assert account["job"] == "one"
    assert account["status"] == "stopped"
    assert account["seal"] is None
    assert account["engine"] == "keys"
    assert account["checklist"]["id"] == "small"
    assert [(row["step"], row["reason"]) for row in account["left_out"]] == [
        ("look-round", "not-needed")
    ]
    assert [(row["kind"], row["cleared"]) for row in account["troubles"]] == [
        ("stripped-thread", True),
        ("smell_of_fuel", False),
    ]
    assert account["notes"][0]["text"] == "scratch\x1b[2J on the tank"


def test_the_timeline_is_the_journal(told: Path) -> None:
    """Every entry has its line: what was said by whom, how it came in, and which clip holds it."""
    timeline = list(timeline_of(told, account_of(told)["entries"]))
    assert [row["n"] for row in timeline] == list(range(len(timeline)))
    assert timeline[0]["kind"] == "job"
    heard = [row for row in timeline if row["kind"] == "heard"]
    assert heard[0]["text"] == "affirm"
    assert heard[0]["via"] == "voice"
    assert heard[0]["clip"] == "clips/000001.flac"
    assert {row["via"] for row in heard[1:]} == {"typed"}
    assert "clip" not in heard[1]
    unclear = next(row for row in timeline if row["kind"] == "unclear")
    assert unclear["text"] == "mumble"
    said = next(row for row in timeline if row["kind"] == "said")
    assert said["lines"][0] == "Small job. Mara has the job."


def test_no_entry_is_held(tmp_path: Path) -> None:
    """Account, timeline and resuming take no more memory for four times the entries."""
    for name, entries in (("short", 400), ("long", 1600)):
        long_job(tmp_path / name, entries)

    def read(name: str) -> int:
        folder = tmp_path / name
        tracemalloc.start()
        account = account_of(folder)
        assert sum(1 for _ in timeline_of(folder, account["entries"])) == account["entries"]
        resume_job(folder).keeper.journal.close()
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        return peak

    read("short")  # what is loaded once counts for neither
    short, long = read("short"), read("long")
    held = len((tmp_path / "long" / JOURNAL).read_bytes()) * 3 // 4
    assert long - short < held / 4, "four times the entries would be three quarters more of them"


def test_the_text_sends_nothing_to_the_terminal(told: Path) -> None:
    """What people typed is shown without anything that a terminal would obey."""
    text = "\n".join(account_text(account_of(told)))
    assert "\x1b" not in text
    assert "Vehicle: WREN?[2J 7" in text
    assert "scratch?[2J on the tank" in text
    assert "stripped-thread at negative-off, put right" in text
    assert "put right" in text
    assert "OPEN" in text
    assert "Not sealed: the job has not been released." in text


def test_a_released_job_has_its_seal(tmp_path: Path) -> None:
    """A whole job: every step with who saw it, readings within limits, stops, torques, the seal."""
    job, made = _work(tmp_path)
    made.type("affirm")
    for step, typed in (
        ("lever-hold", ["holding now"]),
        ("resting-voltage", ["reading 12.8 V", "affirm"]),
        ("pad-wear", ["reading 4.5 mm", "affirm"]),
    ):
        _until(made, step)
        made.type(*typed)
        if step == "lever-hold":
            made.work(40).bay.turn(0.0)
            made.type("affirm")
    for _ in range(20):
        if made.bay.closed:
            break
        made.work(5 if made.bay.state.challenge is not None else 300)
        made.type(made.read_back() if made.bay.state.challenge is not None else "step complete")
    job.keeper.journal.close()
    account = account_of(tmp_path / "one")
    assert account["status"] == "released"
    assert account["seal"] == made.bay.seal
    assert len(account["steps"]) == 12
    assert {row["second"] for row in account["steps"]} == {None, "tobin"}
    assert [(row["name"], row["within"]) for row in account["readings"]] == [
        ("resting voltage", True),
        ("pad thickness", True),
    ]
    assert len(account["safety_stops"]) == made.bay.state.met == len(made.bay.state.passed)
    text = "\n".join(account_text(account))
    assert "resting voltage: 12.8 V, within limits" in text
    assert "22 N·m (" in text  # no wrench is known in this shop
    named = {**account["torques"][0], "wrench": "short \x1b[2Jwrench", "set_to": "16.2 lbf·ft"}
    with_tool = "\n".join(account_text({**account, "torques": [named]}))
    assert f"{named['value']}, short ?[2Jwrench set to 16.2 lbf·ft (" in with_tool
    assert f"Fingerprint: {fingerprint(made.bay.seal)}" in text


def test_a_record_that_does_not_verify_has_no_account(told: Path) -> None:
    """An account of a tampered record would be worth nothing, so none is made."""
    lines = (told / JOURNAL).read_bytes().splitlines(keepends=True)
    (told / JOURNAL).write_bytes(b"".join([*lines[:3], *lines[4:]]))
    with pytest.raises(RecordDamaged, match="does not verify") as problem:
        account_of(told)
    assert problem.value.entry == 3
