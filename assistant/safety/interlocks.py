"""The checklist's own interlocks, proved one by one: no path does what one of them forbids."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from assistant.checklist.expand import Candidate
from assistant.checklist.model import Interlock, OptionValue
from assistant.checklist.offlist import OffList, Refused
from assistant.checklist.plan import PlannedStep
from assistant.safety.breaches import BROKEN, Broken, path_of
from assistant.safety.walk import Breach, Move, Rule, walk


@dataclass(frozen=True, slots=True)
class _Seen:
    """What matters to one interlock: its items that are off, and a blocked step that was done."""

    off: OffList = OffList()  # noqa: RUF009 - frozen
    blocked: str = ""


def interlock_walks(
    steps: Sequence[Candidate],
    options: Mapping[str, tuple[OptionValue, ...]],
    interlocks: Sequence[Interlock],
    bound: int,
) -> Iterator[tuple[list[Broken], int]]:
    """One walk for each interlock: what it finds broken, and the states explored."""
    for interlock in interlocks:
        touching = [c for c in steps if _touches(c.planned, interlock)]
        found = walk(touching, options, _Seen(), _rule(interlock), bound)
        yield [_told(interlock, breach) for breach in found.breaches.values()], found.states


def _named(step: PlannedStep, names: tuple[str, ...]) -> bool:
    return step.id in names or step.step.step in names


def _touches(planned: PlannedStep, interlock: Interlock) -> bool:
    items = {*(o.item for o in planned.step.off), *(b.item for b in planned.step.back)}
    return (
        _named(planned, interlock.blocks)
        or _named(planned, interlock.while_not_done)
        or not items.isdisjoint(interlock.while_off)
    )


def _rule(interlock: Interlock) -> Rule[_Seen]:
    def rule(seen: _Seen, step: PlannedStep | None) -> Iterator[Move[_Seen]]:
        if step is None:
            yield Move(None)
            return
        broken = None
        told = f"step {step.id}"
        if _named(step, interlock.blocks):
            waits_for_itself = _named(step, interlock.while_not_done)
            broken = "interlock" if seen.off.open_items() or waits_for_itself else None
            seen = replace(seen, blocked=step.id)
        elif _named(step, interlock.while_not_done) and seen.blocked:
            broken = "interlock"
        yield Move(replace(seen, off=_moved(seen.off, step, interlock)), (told,), broken)

    return rule


def _moved(off: OffList, step: PlannedStep, interlock: Interlock) -> OffList:
    for gone in step.step.off:
        if gone.item in interlock.while_off:
            off = off.take_off(gone.item, gone.count, gone.how)
    for back in step.step.back:
        if back.item in interlock.while_off:
            returned = off.put_back(back.item, back.count, new=True)
            off = off if isinstance(returned, Refused) else returned
    return off


def _told(interlock: Interlock, breach: Breach[_Seen]) -> Broken:
    message = BROKEN["interlock"].format(name=interlock.interlock, says=interlock.says)
    return Broken("interlock", breach.step, message, path_of(breach.trail, ""))
