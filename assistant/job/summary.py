"""What became of a job, as plain facts for the record, the screen and `--json`."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from assistant.job.flow import readings_absent
from assistant.job.pace import quick, ran_long
from assistant.job.state import JobState, Mode, Setting
from assistant.trade.quantity import Quantity


def status(state: JobState) -> str:
    """Either "released" or "stopped": a job not released is stopped where it is."""
    return "released" if state.mode is Mode.RELEASED else "stopped"


def open_things(setting: Setting, state: JobState) -> dict[str, int]:
    """Counts of what is still open: things off, hazards, troubles, readings."""
    return {
        "off": sum(item.count for item in state.progress.off.open_items()),
        "hazards": len(state.progress.hazards.open_ones()),
        "troubles": len(state.open_troubles()),
        "readings": len(readings_absent(setting, state)),
    }


def confirmed_steps(state: JobState) -> int:
    """How many different steps stand confirmed."""
    return len({done.step for done in state.progress.done})


def account(setting: Setting, state: JobState) -> dict[str, Any]:
    """The parts of `gloveson record --json` that follow from the state."""
    return {
        "job": state.job,
        "vehicle": state.vehicle,
        "people": [{"id": p, "name": setting.name_of(p)} for p in state.people],
        "second_person": state.second,
        "roster": dict(setting.roster),
        "checklist": {
            "id": setting.plan.checklist,
            "title": setting.plan.title,
            "version": setting.plan.version,
            "sha256": setting.plan.sha256,
            "options": dict(setting.plan.options),
        },
        "status": status(state),
        "began": state.began,
        "ended": state.ended,
        "steps": _steps(setting, state),
        "ran_long": [
            {
                "step": one.step,
                "number": one.number,
                "minutes": one.minutes,
                "expected_minutes": one.expected,
            }
            for one in ran_long(setting, state)
        ],
        "quick": [asdict(one) for one in quick(setting, state)],
        "earlier": [asdict(one) for one in state.earlier],
        "readings": _readings(setting, state),
        "torques": _torques(setting, state),
        "parts": _parts(setting, state),
        "troubles": [
            {
                "kind": t.kind,
                "step": t.step,
                "item": t.item,
                "cleared": t.cleared,
                "at": t.wall,
                "who": t.who,
                "clip": t.clip,
                "text": t.text,
            }
            for t in state.troubles
        ],
        "notes": [
            {"step": n.step, "seconds": n.seconds, "at": n.wall, "clip": n.clip, "text": n.text}
            for n in state.notes
        ],
        "left_out": [
            {"step": e.step, "reason": e.reason, "at": e.wall, "who": e.who}
            for e in state.progress.left_out
        ],
        "hazard_reasons": [
            {"step": planned.id, "reason": planned.step.hazard_reason}
            for planned in setting.plan.steps
            if planned.step.hazard_reason is not None
        ],
        "safety_stops": [
            {
                "stop": p.stop,
                "number": p.number,
                "tries": p.tries,
                "at": p.wall,
                "who": p.who,
                "via": p.via,
                "second": p.second,
                "second_number": p.second_number,
            }
            for p in state.passed
        ],
        "off": [
            {"item": item.item, "count": item.count} for item in state.progress.off.open_items()
        ],
        "open": open_things(setting, state),
    }


def _steps(setting: Setting, state: JobState) -> list[dict[str, Any]]:
    by_id = {planned.id: planned for planned in setting.plan.steps}
    return [
        {
            "number": d.number,
            "step": d.step,
            "do": by_id[d.step].step.do,
            "section": by_id[d.step].section_title,
            "at": d.wall,
            "who": d.who,
            "second": d.second,
            "seconds": d.seconds,
            "via": d.via,
        }
        for d in state.progress.done
    ]


def _readings(setting: Setting, state: JobState) -> list[dict[str, Any]]:
    asked = {
        (planned.id, reading.name): reading
        for planned in setting.plan.steps
        for reading in planned.step.readings
    }
    return [
        {
            "step": r.step,
            "name": r.name,
            "value": str(r.value),
            "limits": r.limits,
            "at_least": _limit(asked[r.step, r.name].at_least),
            "at_most": _limit(asked[r.step, r.name].at_most),
            "within": r.within,
            "condition": r.condition,
            "at": r.wall,
            "who": r.who,
        }
        for r in state.progress.readings
    ]


def _limit(limit: Quantity | None) -> str | None:
    return str(limit) if limit is not None else None


def _parts(setting: Setting, state: JobState) -> list[dict[str, Any]]:
    """Parts that the confirmed steps put on; held up only, a part was not fitted."""
    by_id = {planned.id: planned.step for planned in setting.plan.steps}
    steps = dict.fromkeys(done.step for done in state.progress.done)
    return [
        {"step": step, "name": part.name, "number": part.number, "count": part.count}
        for step in steps
        for part in by_id[step].parts
        if by_id[step].back
    ]


def _torques(setting: Setting, state: JobState) -> list[dict[str, Any]]:
    by_id = {planned.id: planned.step for planned in setting.plan.steps}
    rows = []
    for done in state.progress.done:
        step = by_id[done.step]
        if step.torque is not None:
            rows.append(
                {
                    "step": done.step,
                    "fastener": step.fastener.name if step.fastener is not None else "",
                    "value": str(step.torque.value),
                    "source": step.torque.source,
                    "wrench": done.wrench or None,
                    "set_to": done.set_to or None,
                    "at": done.wall,
                    "who": done.who,
                }
            )
    return rows
