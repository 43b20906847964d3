"""What a checklist must make sense in, beyond its shape: each rule gives findings with lines.

These are the rules of single steps and texts; `applies` looks at the choices of options.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Final

from assistant.checklist.applies import option_findings
from assistant.checklist.expand import candidates
from assistant.checklist.explain import did_you_mean
from assistant.checklist.figures import about
from assistant.checklist.loader import Loaded
from assistant.checklist.model import Reading, Torque
from assistant.checklist.numerals import numbers_without_unit
from assistant.checklist.places import Place, places
from assistant.checklist.positions import ListNode, MapNode, Node, ScalarNode
from assistant.checklist.scalars import shown
from assistant.checklist.single_use import SINGLE_USE, names_any
from assistant.errors import Finding
from assistant.trade.quantity import Dimension, Quantity, unit_named
from assistant.trade.threads import Thread


def findings(
    loaded: Loaded,
    confirming: Iterable[str] = (),
    unspeakable: Callable[[str], str | None] | None = None,
    single_use: Mapping[str, tuple[str, ...]] = SINGLE_USE,
) -> tuple[Finding, ...]:
    """Everything in a loaded checklist that can't be meant so, on any choice of options.

    Args:
        loaded: the checklist.
        confirming: phrases that confirm something ("step complete"): none may be read aloud.
        unspeakable: says what is wrong when a text can't be worded for the voice, else None.
        single_use: by language, words that name parts which only go on new.
    """
    words = single_use.get(loaded.checklist.language, ())
    known = {step.step: None for _, _, step in loaded.steps()}
    parts = (part for _, _, step in loaded.steps() for part in step.parts)
    marked = frozenset(part.name for part in parts if part.single_use)
    found: list[Finding] = []
    for place in places(loaded):
        found.extend(_fastening(place))
        found.extend(_readings(place))
        found.extend(_single_use(place, words, marked))
        found.extend(_references(place, known))
        found.extend(_numbers(place))
    found.extend(_interlocks(loaded, known))
    found.extend(_spoken(loaded, tuple(confirming), unspeakable))
    found.extend(option_findings(loaded))
    order = {source.file: place for place, source in enumerate(loaded.sources)}
    unique = dict.fromkeys(found)
    return tuple(sorted(unique, key=lambda f: (order.get(f.file, len(order)), f.line)))


# -- one step


def _fastening(place: Place) -> Iterator[Finding]:
    fastener, torque = place.step.fastener, place.step.torque
    if fastener is not None and fastener.thread is not None:
        try:
            Thread.parse(fastener.thread)
        except ValueError as error:
            yield place.error("bad-thread", shown(str(error), 200), "fastener", "thread")
    if fastener is not None and fastener.length is not None:
        yield from _measures(place, fastener.length, Dimension.LENGTH, "fastener", "length")
    if place.step.hold is not None:
        yield from _measures(place, place.step.hold.time, Dimension.TIME, "hold", "time")
    if torque is not None:
        if fastener is None:
            message = "a torque needs its fastener: what is tightened, with which driver"
            yield place.error("torque-without-fastener", message, "torque")
        yield from _torque(place, torque)


def _torque(place: Place, torque: Torque) -> Iterator[Finding]:
    yield from _measures(place, torque.value, Dimension.TORQUE, "torque", "value")
    passes = (*torque.stages, torque.value)
    for index, stage in enumerate(torque.stages):
        yield from _measures(place, stage, Dimension.TORQUE, "torque", "stages", index)
    if any(one.unit.dimension is not Dimension.TORQUE for one in passes):
        return
    if any(one.value <= 0 for one in passes):
        yield place.error("torque-not-positive", "a torque is more than nothing", "torque")
    for index, (one, following) in enumerate(itertools.pairwise(passes)):
        if one.to(following.unit).value >= following.value:
            same = one.to(following.unit)
            after = one if same == one else f"{one}, which is {about(same)}"
            message = f"stages rise to the final torque, but {following} follows {after}"
            yield place.error("stages-not-rising", message, "torque", "stages", index)


def _measures(
    place: Place, quantity: Quantity, dimension: Dimension, *location: str | int
) -> Iterator[Finding]:
    if quantity.unit.dimension is not dimension:
        is_a = quantity.unit.dimension.value
        message = f"{quantity} is a {is_a}; a {dimension.value} belongs here"
        yield place.error("wrong-dimension", message, *location)


def _readings(place: Place) -> Iterator[Finding]:
    for index, reading in enumerate(place.step.readings):
        yield from _limits(place, reading, index)


def _limits(place: Place, reading: Reading, index: int) -> Iterator[Finding]:
    unit, at = unit_named(reading.unit), ("readings", index)
    limits = {"at_least": reading.at_least, "at_most": reading.at_most}
    if reading.at_least is None and reading.at_most is None:
        message = (
            f'the reading "{reading.name}" has no limits, so any value passes; give at_least, '
            "at_most or both, from the document that you follow"
        )
        yield place.finding("warning", "reading-without-limits", message, *at)
    fitting = []
    for name, limit in limits.items():
        if limit is not None and limit.unit.dimension is not unit.dimension:
            message = f"the limit {limit} can't be compared with a reading in {unit.symbol}"
            yield place.error("wrong-dimension", message, *at, name)
        elif limit is not None:
            fitting.append(limit.to(unit).value)
    if len(fitting) == len(limits) and fitting[0] > fitting[1]:
        limits_said = f"at least {reading.at_least} and at most {reading.at_most}"
        message = f"{limits_said} leave no value; exchange them, or correct the one that is wrong"
        yield place.error("limits-reversed", message, *at, "at_least")


def _single_use(place: Place, words: tuple[str, ...], marked: frozenset[str]) -> Iterator[Finding]:
    for index, back in enumerate(place.step.back):
        if not back.new and (back.item in marked or names_any(back.item, words)):
            message = f'"{back.item}" is good for one use; a new one goes on: new: true'
            yield place.error("single-use", message, "back", index)
    for index, part in enumerate(place.step.parts):
        if not part.single_use and names_any(part.name, words):
            message = f'the part "{part.name}" is good for one use; write single_use: true'
            yield place.finding("warning", "single-use-unmarked", message, "parts", index)


def _references(place: Place, known: Mapping[str, None]) -> Iterator[Finding]:
    for index, name in enumerate(place.step.reopens):
        if name not in known:
            message = f'reopens "{name}", but no step is named so; {did_you_mean(name, known)}'
            yield place.error("unknown-step", message, "reopens", index)
    if place.step.optional and (place.step.off or place.step.back):
        message = (
            "an optional step can't take anything off or put it back, since leaving it out "
            "would break the off-list; make it depend on an option (when)"
        )
        yield place.error("optional-off-list", message, "optional")


def _interlocks(loaded: Loaded, known: Mapping[str, None]) -> Iterator[Finding]:
    """An interlock that names what doesn't exist would never block anything."""
    steps = (candidate.planned.step for candidate in candidates(loaded))  # {each} filled in
    items = dict.fromkeys(off.item for step in steps for off in step.off)
    optional = {step.step for _, _, step in loaded.steps() if step.optional}
    line = loaded.node.line_of("interlocks")
    for interlock in loaded.checklist.interlocks:
        said = f'interlock "{interlock.interlock}"'
        for name in (*interlock.blocks, *interlock.while_not_done):
            if name.partition(".")[0] not in known:
                message = f'{said}: no step is named "{name}"; {did_you_mean(name, known)}'
                yield Finding("error", "unknown-step", loaded.file, line, message)
        for item in interlock.while_off:
            if item not in items:
                message = f'{said}: "{item}" never comes off; {did_you_mean(item, items)}'
                yield Finding("error", "unknown-item", loaded.file, line, message)
        for name in sorted(optional.intersection(interlock.while_not_done)):
            message = f"{said}: the step {name} may be left out, so nothing can wait for it"
            yield Finding("error", "waits-for-optional", loaded.file, line, message)
        if not (interlock.while_off or interlock.while_trouble or interlock.while_not_done):
            message = f"{said} names nothing to wait for; give while_off, while_trouble or more"
            yield Finding("error", "empty-interlock", loaded.file, line, message)


def _numbers(place: Place) -> Iterator[Finding]:
    for number in numbers_without_unit(place.step.do):
        message = f'the number {number} has no unit; write it like "{number} mm"'
        yield place.finding("warning", "number-without-unit", message, "do")


# -- what the voice says


def _spoken(
    loaded: Loaded,
    confirming: tuple[str, ...],
    unspeakable: Callable[[str], str | None] | None,
) -> Iterator[Finding]:
    for file, text in _texts(loaded):
        heard = f" {_as_heard(text.raw)} "
        for phrase in confirming:
            if f" {_as_heard(phrase)} " in heard:
                message = (
                    f'holds "{phrase}", which confirms when it is heard, and the assistant '
                    "would say it itself; use other words"
                )
                yield Finding("error", "confirming-phrase", file, text.line, message)
        wrong = unspeakable(text.raw) if unspeakable is not None else None
        if wrong is not None:
            message = f'"{shown(text.raw)}" can\'t be said: {wrong}'
            yield Finding("error", "unspeakable", file, text.line, message)


def _as_heard(text: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", text.lower()))


# Keys whose texts are names for the program or for paper, not for the voice.
_SILENT: Final = frozenset({
    "checklist", "shared", "section", "step", "include", "when", "version", "language", "source",
    "interlock", "blocks", "while_off", "while_trouble", "while_not_done", "stop",
    "reopens", "hazards", "hazard_reason", "how", "number", "unit", "signal", "default", "note",
})  # fmt: skip


def _texts(loaded: Loaded) -> Iterator[tuple[str, ScalarNode]]:
    own = tuple(e for e in loaded.node.entries if e[0].raw not in {"sections", "options"})
    yield from _texts_under(MapNode(own, loaded.node.line), loaded.file)
    options = loaded.node.get("options")
    for _, option in options.entries if isinstance(options, MapNode) else ():
        if isinstance(option, MapNode):
            yield from _texts_under(option, loaded.file)
    for part in loaded.sections:
        yield part.file, part.title
        for node in part.nodes:
            yield from _texts_under(node, part.file)


def _texts_under(node: Node, file: str) -> Iterator[tuple[str, ScalarNode]]:
    if isinstance(node, ScalarNode):
        if isinstance(node.value, str):
            yield file, node
    elif isinstance(node, ListNode):
        for item in node.items:
            yield from _texts_under(item, file)
    else:
        for key, value in node.entries:
            if key.raw not in _SILENT:
                yield from _texts_under(value, file)
