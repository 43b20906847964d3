"""A checklist with its options chosen: the steps that apply, in order, with where they stand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from assistant.checklist.model import Interlock, Machine, OptionValue, Step


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """One step as it will be done.

    Attributes:
        id: the step's name, with its repetition if any: "perch-bolts.left".
        number: 1-based place among the steps that apply.
        section: id of its section.
        section_title: title of its section, for the ear and the screen.
        step: the step, {each} filled in and `each`/`when` used up.
        file: file it was written in.
        line: line it begins on, 1-based.
    """

    id: str
    number: int
    section: str
    section_title: str
    step: Step
    file: str
    line: int


@dataclass(frozen=True, slots=True)
class Plan:
    """The steps of one job on one vehicle.

    Attributes:
        sha256: hex digest over the checklist file and its shared sections, in order.
        single_use: items of the off-list for which only new ones go on.
        options: every option of the checklist with the value chosen for this vehicle.
    """

    checklist: str
    title: str
    version: str
    language: str
    machines: tuple[Machine, ...]
    source: str
    standing: str
    sha256: str
    options: Mapping[str, OptionValue]
    steps: tuple[PlannedStep, ...]
    interlocks: tuple[Interlock, ...] = ()
    single_use: frozenset[str] = frozenset()
