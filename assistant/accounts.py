"""The account of a job, made from its record alone: the state is replayed, the facts listed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any

from assistant.checklist.plan import PlannedStep
from assistant.job.serial import KINDS
from assistant.job.summary import account
from assistant.opening import Follower
from assistant.record.audit import Verified
from assistant.record.clocks import CLOCK, clock_steps
from assistant.record.reading import stream_entries
from assistant.record.seal import fingerprint


def account_of(folder: Path) -> dict[str, Any]:
    """What `record` tells, all but the timeline; memory does not grow with the entries.

    Raises:
        RecordDamaged: the record doesn't verify; an account of it would be worth nothing.
    """
    reading, follower = Verified(folder), Follower(folder)
    clock_set: list[dict[str, object]] = []
    for entry in reading:
        follower.take(entry)
        clock_set += clock_steps([entry])
    checked = reading.checked
    header, setting = follower.begun()
    return {
        **account(setting, follower.state),
        "program": header.program,
        "engine": header.engine,
        "source": header.source,
        "stops_sha256": header.stops_sha256,
        "plan": [_planned(planned) for planned in setting.plan.steps],
        "clock_set": clock_set,
        "entries": checked.entries,
        "seal": checked.seal,
        "sound": {
            "kept": follower.clips,
            "removed": [
                {"clip": gone.file, "at": gone.wall, "days": gone.days} for gone in checked.removed
            ],
        },
    }


def timeline_of(folder: Path, entries: int) -> Iterator[dict[str, Any]]:
    """What an account's record tells of each of its entries, one at a time.

    Args:
        folder: the record.
        entries: as many as the account has counted; an open job may have gone on since.

    Raises:
        RecordDamaged: it was altered since the account was made.
    """
    for entry in islice(stream_entries(folder), entries):
        told = _told(entry.kind, dict(entry.data))
        yield {"n": entry.n, "at": entry.wall, "kind": entry.kind, **told}


def _planned(planned: PlannedStep) -> dict[str, Any]:
    """What the checklist says of a step, for whoever reads of it by its id."""
    fastener = planned.step.fastener
    return {
        "step": planned.id,
        "do": planned.step.do,
        "driver": planned.step.driver or (fastener.drive if fastener else None),
        "thread": fastener.thread if fastener else None,
    }


def _told(kind: str, data: dict[str, Any]) -> dict[str, Any]:
    """What the timeline tells of an entry."""
    if kind == "said":
        return {"lines": data["lines"]}
    if kind == CLOCK:
        return {"before": data["before"], "seconds": data["seconds"]}
    if kind in KINDS:
        clip = data.get("clip")
        told = {"text": _words(kind, data), "via": data.get("via"), "clip": clip and clip["file"]}
        return {name: value for name, value in told.items() if value}
    return {}


def _words(kind: str, data: dict[str, Any]) -> str:
    if kind == "heard":
        return str(data["intent"]["phrase"])
    return str(data.get("text", ""))


def account_text(account: dict[str, Any]) -> Iterator[str]:
    """The account as lines to read."""
    checklist = account["checklist"]
    yield f"Job {account['job']}: {account['status']}"
    yield f"Vehicle: {plain(account['vehicle']) or 'not named'}"
    people = ", ".join(plain(person["name"]) for person in account["people"])
    yield f"People: {people}"
    yield f"Checklist: {checklist['title']}, version {checklist['version']}"
    yield f"  sha256 {checklist['sha256']}"
    yield f"Began {account['began']}, ended {account['ended'] or 'not yet'}"
    yield from _table("Steps", account["steps"], _step)
    yield from _table("Confirmed quicker than the work takes", account["quick"], _quick)
    yield from _table("Left open by earlier jobs on this machine", account["earlier"], _earlier)
    yield from _table("Ran long", account["ran_long"], _long)
    yield from _table("Readings", account["readings"], _reading)
    yield from _table("Torques", account["torques"], _torque)
    yield from _table("Safety stops", account["safety_stops"], _stop)
    yield from _table("No hazard work, as the checklist says", account["hazard_reasons"], _reason)
    yield from _table("Left out", account["left_out"], _left_out)
    yield from _table("Troubles", account["troubles"], _trouble)
    yield from _table("Notes", account["notes"], _note)
    yield from _table("Still off", account["off"], lambda row: f"{row['count']} {row['item']}")
    yield from _sound(account["sound"])
    yield from _table("Clock set", account["clock_set"], _clock)
    seal = account["seal"]
    yield f"Seal: {seal}" if seal else "Not sealed: the job has not been released."
    if seal:
        yield f"Fingerprint: {fingerprint(seal)}"


def _sound(sound: dict[str, Any]) -> Iterator[str]:
    if not sound["kept"]:
        yield "Replies' sound is not kept."
    for day, days in sorted({(gone["at"][:10], gone["days"]) for gone in sound["removed"]}):
        yield f"Replies' sound removed by retention on {day}, {days} days after the seal."


def _table(title: str, rows: list[dict[str, Any]], told: Any) -> Iterator[str]:  # noqa: ANN401
    if rows:
        yield f"{title}:"
        yield from (f"  {told(row)}" for row in rows)


def plain(text: str) -> str:
    """Without anything that a terminal would obey."""
    return "".join(sign if sign.isprintable() else "?" for sign in text)


def _step(row: dict[str, Any]) -> str:
    second = f", seen by {row['second']}" if row["second"] else ""
    return f"{row['at'][11:19]} {row['number']:3d}. {row['do']} ({row['who']}{second})"


def _quick(row: dict[str, Any]) -> str:
    return f"{row['step']}: {row['seconds']:g} s, at least {row['least']:g} s"


def _earlier(row: dict[str, Any]) -> str:
    more = f" ({plain(row['more'])})" if row["more"] else ""
    return f"{row['began'][:10]} job {row['job']}, {row['kind']}: {plain(row['what'])}{more}"


def _long(row: dict[str, Any]) -> str:
    return f"{row['step']}: {row['minutes']:g} min, expected {row['expected_minutes']:g} min"


def _reading(row: dict[str, Any]) -> str:
    within = "within" if row["within"] else "OUT OF"
    limits = f", {within} limits {row['limits']}" if row["limits"] else ""
    condition = f", {row['condition']}" if row["condition"] else ""
    return f"{row['at'][11:19]} {row['name']}: {row['value']}{limits}{condition}"


def _torque(row: dict[str, Any]) -> str:
    tool = f", {plain(row['wrench'])} set to {row['set_to']}" if row["wrench"] else ""
    return f"{row['at'][11:19]} {row['fastener']}: {row['value']}{tool} ({row['source']})"


def _stop(row: dict[str, Any]) -> str:
    tries = "" if row["tries"] == 1 else f", {row['tries']} tries"
    return f"{row['at'][11:19]} {row['stop']}: number {row['number']} by {row['via']}{tries}"


def _reason(row: dict[str, Any]) -> str:
    return f"{row['step']}: {plain(row['reason'])}"


def _left_out(row: dict[str, Any]) -> str:
    return f"{row['at'][11:19]} {row['step']}: {row['reason']}"


def _trouble(row: dict[str, Any]) -> str:
    state = "put right" if row["cleared"] else "OPEN"
    text = f": {plain(row['text'])}" if row["text"] else ""
    where = f" at {row['step']}" if row["step"] else ""
    item = f" ({plain(row['item'])})" if row["item"] else ""
    return f"{row['at'][11:19]} {row['kind']}{item}{where}, {state}{text}"


def _clock(row: dict[str, Any]) -> str:
    way = "forward" if row["seconds"] > 0 else "back"
    by = f"{abs(row['seconds']):g} s"
    return f"{row['at'][11:19]} {way} by {by}, {row['before'][11:19]} before; or the machine slept"


def _note(row: dict[str, Any]) -> str:
    where = row["clip"] or plain(row["text"])
    return f"{row['at'][11:19]} at {row['step']}: {where}"
