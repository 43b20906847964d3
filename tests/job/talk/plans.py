"""Small checklists made up at random: whole jobs with all three hazards, some of them broken."""

from __future__ import annotations

import json
import random
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

import yaml

from assistant.checklist.loader import Loaded, load
from assistant.errors import BadFile

Made = dict[str, Any]
_OPTIONS = {
    "extra": {"ask": "Is the extra fitted?", "default": True},
    "kind": {"ask": "Which kind?", "values": ["short", "long"], "default": "short"},
}
_WHEN: tuple[Mapping[str, object], ...] = ({"extra": True}, {"extra": False}, {"kind": "long"})
_HOLD = {"time": "30 s", "what": "it stays as it is"}
_READINGS = (
    {"name": "gap", "unit": "mm", "at_least": "2 mm", "at_most": "4 mm"},
    {"name": "play", "unit": "in", "at_least": "5/32 in"},
    {"name": "lamp voltage", "unit": "V", "at_least": "12.4 V", "condition": "key off"},
)


class _Maker:
    """Draws one checklist."""

    def __init__(self, seed: int) -> None:
        self.chance = random.Random(seed)  # noqa: S311 - made-up work, no secret
        self.count = 0

    def likely(self, part: float) -> bool:
        return self.chance.random() < part

    def step(self, **more: object) -> Made:
        self.count += 1
        step: Made = {"step": f"work-{self.count}", "do": f"Do piece {self.count} of the work."}
        if self.likely(0.2):
            step["readings"] = [self.chance.choice(_READINGS)]
        if self.likely(0.15):
            step["hold"] = _HOLD
        if self.likely(0.15):
            step["second_person"] = True
        if self.likely(0.1):
            step["shifts_balance"] = True
        step["minutes"] = self.chance.choice([0.5, 2, 10])
        return {**step, **more}

    def plain(self, most: int) -> Iterator[Made]:
        """Steps that touch no hazard."""
        for _ in range(self.chance.randint(0, most)):
            step = self.step()
            if self.likely(0.4):
                step["optional"] = True
            if self.likely(0.3):
                step["when"] = dict(self.chance.choice(_WHEN))
            yield step

    def fluid(self, hazard: str) -> Iterator[Made]:
        """Opened, worked on, closed, checked; once in a while twice."""
        item = f"{hazard} part {self.count}"
        off = {"item": item, "count": self.chance.randint(1, 3)}
        yield self.step(hazards={hazard: "open"}, off=[off])
        for _ in range(self.chance.randint(0, 2)):
            yield self.step(hazards={hazard: "work"})
            yield from self.plain(1)
        closing = self.step(hazards={hazard: "close"}, back=[off])
        yield closing
        check = self.step(hazards={hazard: "prove"})
        if self.likely(0.4):
            check["reopens"] = [closing["step"]]
        yield check
        if self.likely(0.3):
            yield self.step(stop=f"{hazard}_{'closed' if hazard == 'fuel' else 'proven'}")

    def job(self) -> list[Made]:
        """A whole job, in an order that is safe."""
        steps = [*self.plain(2)]
        battery = self.likely(0.8)
        if battery:
            steps.append(self.step(hazards={"battery": "disconnect"}, off=[{"item": "cable"}]))
            steps.extend(self.plain(1))
        kinds = self.chance.choices(["fuel", "brake"] if battery else ["brake"], k=2)
        for kind in kinds[: self.chance.randint(0 if battery else 1, 2)]:
            steps.extend(self.fluid(kind))
            steps.extend(self.plain(1))
        if battery:
            steps.append(self.step(hazards={"battery": "reconnect"}, back=[{"item": "cable"}]))
            volts = {"name": "resting voltage", "unit": "V", "at_least": "12.4 V"}
            steps.append(self.step(hazards={"battery": "prove"}, readings=[volts]))
        if self.likely(0.4):
            event = self.chance.choice(["ignition-on", "engine-start", "machine-moved"])
            steps.append(self.step(hazards={"event": event}))
        steps.extend(self.plain(2))
        return steps or [self.step()]

    def interlocks(self, steps: list[Made]) -> list[Made]:
        """Perhaps a rule that the last step waits for an earlier one that can't be left out."""
        first = [step for step in steps[:-1] if not step.get("optional")]
        if not first or not self.likely(0.4):
            return []
        rule = {"interlock": "in-order", "says": "One piece comes before the last."}
        return [{**rule, "blocks": [steps[-1]["step"]], "while_not_done": [first[0]["step"]]}]

    def spoil(self, steps: list[Made]) -> None:
        """What an author might get wrong: a step lost, moved, or with its tags forgotten."""
        at = self.chance.randrange(len(steps))
        match self.chance.choice(["drop", "move", "untag", "optional"]):
            case "drop" if len(steps) > 1:
                del steps[at]
            case "move":
                steps.insert(self.chance.randrange(len(steps)), steps.pop(at))
            case "untag":
                steps[at].pop("hazards", None)
            case _:
                steps[at]["optional"] = True


@lru_cache(maxsize=512)
def made_up(seed: int, *, spoiled: bool = False) -> Loaded:
    """The checklist of this seed; a spoiled one may be unsafe, and is whole if it can't be read."""
    maker = _Maker(seed)
    steps = maker.job()
    if spoiled:
        maker.spoil(steps)
    whole = {
        "checklist": "made-up",
        "title": "Made-up job",
        "version": "1.0.0",
        "machines": [{"name": "Ostrel 900 roadster"}],
        "source": "Made up by a test.",
        "standing": "Upright on the stand.",
        "options": _OPTIONS,
        "interlocks": maker.interlocks(steps),
        "sections": [{"section": "all", "title": "All of it", "steps": steps}],
    }
    # By way of JSON nothing is shared any more, so that the text has no aliases.
    text = yaml.safe_dump(json.loads(json.dumps(whole)), sort_keys=False, allow_unicode=True)
    try:
        return load({"made-up.yaml": text}, "made-up.yaml")
    except BadFile:
        if not spoiled:
            raise
        return made_up(seed)
