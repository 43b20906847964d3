"""What a checklist file may say, as strict models.

Every model forbids keys it doesn't know and never coerces: "yes" is not a number and 5 is
not a text. The reasons for each field are in its description, which also feeds the JSON
Schema that editors read.
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import (
    Discriminator,
    Field,
    PlainValidator,
    Tag,
    WithJsonSchema,
)

from assistant.checklist.fastening import Adapter, Fastener, Torque, Wrench
from assistant.checklist.fields import (
    AQuantity,
    Count,
    Identifier,
    InclusionName,
    Language,
    LongText,
    OptionName,
    ShortText,
    Strict,
    UnitName,
    Version,
)
from assistant.checklist.tags import SIDES, BatteryTag, EventTag, FluidTag, SignalWord, StopName

__all__ = [
    "Adapter",
    "BackItem",
    "Caution",
    "Checklist",
    "Fastener",
    "Fluid",
    "Hazards",
    "Hold",
    "Include",
    "Interlock",
    "Machine",
    "OffItem",
    "Option",
    "OptionName",
    "OptionValue",
    "Part",
    "Reading",
    "Section",
    "SectionOrInclude",
    "SharedSection",
    "Step",
    "Torque",
    "Wrench",
]


class Caution(Strict):
    """What can hurt or spoil here, said with the step."""

    signal: Annotated[SignalWord, Field(strict=False)] = Field(
        description="DANGER, WARNING, CAUTION or NOTICE, as ANSI Z535.4 defines them."
    )
    text: LongText = Field(description="The hazard first, then what to do.")


class Part(Strict):
    """A part this step fits."""

    name: ShortText = Field(description="What the shop calls it: banjo crush washer.")
    number: Annotated[str, Field(pattern=r"^[A-Z0-9]+(-[A-Z0-9]+)*$", max_length=24)] | None = (
        Field(None, description="The order's part number, read back digit by digit.")
    )
    count: Count = Field(1, description="How many of them.")
    read: bool = Field(
        default=False,
        description="Its number must be read aloud from the part itself before the step counts.",
    )
    single_use: bool = Field(
        default=False,
        description="Crush washers, gaskets, O-rings, cotter pins: only new ones go on.",
    )


class Fluid(Strict):
    """A hydraulic or other fluid that this step fills or tops up."""

    grade: ShortText = Field(description="Its grade: DOT 4.")
    into: ShortText = Field(description="The system that it goes into: front brake.")


class Reading(Strict):
    """A measured value that the step asks for."""

    name: ShortText = Field(description="What is measured: clutch free play at the lever.")
    unit: UnitName = Field(description="Unit in which it is spoken: mm, V, N·m.")
    at_least: AQuantity | None = Field(None, description="The lowest value that passes.")
    at_most: AQuantity | None = Field(None, description="The highest value that passes.")
    condition: ShortText | None = Field(
        None, description="The state in which it counts: upright, key off, tightest spot."
    )


class OffItem(Strict):
    """Something that comes off, is unplugged, drained, loosened, caged or capped."""

    item: ShortText = Field(description="Its name on the off-list; the same name puts it back.")
    count: Count = Field(1, description="How many of them.")
    how: Literal["removed", "unplugged", "drained", "loosened", "capped", "caged", "inside"] = (
        Field(
            "removed",
            description="What happens to it: loosened counts as off too; inside: a tool or a "
            "rag that went in and must come out.",
        )
    )
    where: ShortText | None = Field(None, description="Where it lies until then.")
    mark: ShortText | None = Field(
        None, description="Side or orientation to capture now: long end left."
    )


class BackItem(Strict):
    """Something that goes back on."""

    item: ShortText = Field(description="Its name on the off-list, exactly as it came off.")
    count: Count = Field(1, description="How many of them.")
    new: bool = Field(
        default=False, description="A new one goes on; the old one stays off for good."
    )


class Hold(Strict):
    """Something that must hold for a time; the assistant times it."""

    time: AQuantity = Field(description="30 s, 2 min")
    what: ShortText = Field(description="What must hold: lever held firm, no sinking.")


class Hazards(Strict):
    """Which of the three hazards this step touches. The program places the safety stops."""

    battery: Annotated[BatteryTag, Field(strict=False)] | None = Field(
        None,
        description="disconnect: takes the negative cable off; needs-isolated: work that needs the "
        "battery isolated; reconnect: puts the negative cable on; prove: reads its voltage.",
    )
    fuel: Annotated[FluidTag, Field(strict=False)] | None = Field(
        None,
        description="open: first opens or disturbs the fuel system; work: more work while it is "
        "open; close: the step after which it is closed; prove: the leak check.",
    )
    brake: Annotated[FluidTag, Field(strict=False)] | None = Field(
        None,
        description="open: first opens or disturbs a brake circuit, caliper or master cylinder; "
        "work: more work while it is open; close: the step after which it is closed; "
        "prove: the reading or timed hold that proves the lever firm.",
    )
    event: Annotated[EventTag, Field(strict=False)] | None = Field(
        None,
        description="ignition-on, engine-start or machine-moved: what the step does beyond its "
        "own work; refused while a hazard or an interlock forbids it.",
    )


def _option_value(value: object) -> bool | str:
    """One validator for both kinds, so that a wrong value gives one finding, not one a kind."""
    if isinstance(value, bool) or (isinstance(value, str) and value.strip()):
        return value
    msg = "write true or false, or one of the option's values as text"
    raise ValueError(msg)


OptionValue = Annotated[
    bool | str,
    PlainValidator(_option_value),
    WithJsonSchema({"type": ["boolean", "string"]}),
]


class Step(Strict):
    """One action, confirmed at once."""

    step: Identifier = Field(description="Short name, unique in the checklist.")
    do: LongText = Field(description="The action, imperative, one sentence or two.")
    when: dict[OptionName, OptionValue] = Field(
        default_factory=dict, description="Options that must all hold for this step to apply."
    )
    each: tuple[ShortText, ...] = Field(
        (), description="Repeat the step for each of these; {each} stands for it in texts."
    )
    fastener: Fastener | None = Field(None, description="What the step loosens or tightens.")
    driver: ShortText | None = Field(
        None, description="The tool to have in hand, where it isn't the fastener's drive."
    )
    torque: Torque | None = Field(None, description="How tight the fastener gets.")
    parts: tuple[Part, ...] = Field((), description="Parts that this step fits.")
    consumables: tuple[ShortText, ...] = Field(
        (), description="Grease, rags, fluid with its grade: DOT 4."
    )
    fluid: Fluid | None = Field(
        None, description="What is filled in; fluids that mustn't meet are found by it."
    )
    cautions: tuple[Caution, ...] = Field((), description="What can hurt or spoil here.")
    readings: tuple[Reading, ...] = Field((), description="Values that this step measures.")
    hold: Hold | None = Field(None, description="What must hold for a time, timed.")
    minutes: Annotated[float, Field(gt=0, le=480)] = Field(
        2.0, description="Expected time in minutes."
    )
    least_seconds: Annotated[int, Field(ge=0, le=600)] | None = Field(
        None,
        description="A confirmation sooner than this is questioned; "
        "default a twentieth of the expected time.",
    )
    why: LongText | None = Field(None, description="The reason, told when asked.")
    off: tuple[OffItem, ...] = Field((), description="What comes off here.")
    back: tuple[BackItem, ...] = Field((), description="What goes back on here.")
    hazards: Hazards = Field(Hazards(), description="What the step does to the three hazards.")
    hazard_reason: LongText | None = Field(
        None,
        description="Why words that sound like hazard work carry no tag here; shown in the record.",
    )
    second_person: bool = Field(
        default=False, description="A second person from the roster confirms too."
    )
    side: Annotated[str, Field(pattern="^(" + "|".join(SIDES) + r"|\{each\}|\{name\})$")] | None = (
        Field(
            None,
            description="The side this is done on, said back before the step counts: left, right, "
            "front, rear, upper, lower, or {each}; in a shared section also {name}.",
        )
    )
    optional: bool = Field(default=False, description="May be left out, with a reason.")
    reopens: tuple[Identifier, ...] = Field(
        (), description="Steps to be done again if trouble here is mended."
    )
    shifts_balance: bool = Field(
        default=False,
        description="After this step it is asked again how the machine is held: wheel out, tank "
        "off, lift moved.",
    )
    stop: Annotated[StopName, Field(strict=False)] | None = Field(
        None,
        description="Ask for this safety stop before the step. The program places all that are "
        "due by itself; one that it places here anyway is not doubled.",
    )


class Section(Strict):
    """A group of steps under one title."""

    section: Identifier = Field(description="Short name, unique in the checklist.")
    title: ShortText = Field(description="What the voice announces: Front brake line.")
    when: dict[OptionName, OptionValue] = Field(
        default_factory=dict, description="Options that must all hold for this section to apply."
    )
    each: tuple[ShortText, ...] = Field(
        (), description="Repeat the whole section for each of these; {each} stands for it in texts."
    )
    steps: Annotated[tuple[Step, ...], Field(min_length=1)] = Field(
        description="Its steps, in order."
    )


class Include(Strict):
    """A shared section, by the path of its file below the folder of this checklist."""

    include: Annotated[str, Field(pattern=r"^[a-z0-9-]+(/[a-z0-9-]+)*\.yaml$", max_length=120)] = (
        Field(description="Its file: shared/battery-off.yaml.")
    )
    name: InclusionName | None = Field(
        None,
        description="Where the section is included more than once, what tells this time from the "
        "others: left, front circuit. {name} stands for it in the section's texts.",
    )
    when: dict[OptionName, OptionValue] = Field(
        default_factory=dict, description="Options that must all hold for this section to apply."
    )


def _section_kind(value: object) -> str:
    named = "include" in value if isinstance(value, dict) else isinstance(value, Include)
    return "<include>" if named else "<section>"


SectionOrInclude = Annotated[
    Annotated[Section, Tag("<section>")] | Annotated[Include, Tag("<include>")],
    Discriminator(_section_kind),
]


class Option(Strict):
    """A fact about this vehicle that decides which steps apply."""

    ask: ShortText = Field(description="The question: Is ABS fitted?")
    values: tuple[ShortText, ...] = Field((), description="Choices; none means yes or no.")
    default: OptionValue = Field(description="What holds when nobody says otherwise.")


class Machine(Strict):
    """The machine this checklist is for."""

    name: ShortText = Field(description="Make, model and variant.")
    note: LongText | None = Field(None, description="What is particular about it.")


class Interlock(Strict):
    """A rule beyond the hazards: not while something is off, open or not done."""

    interlock: Identifier = Field(description="Short name of the rule.")
    says: LongText = Field(description="Why it blocks, said when it does.")
    blocks: Annotated[tuple[Identifier, ...], Field(min_length=1)] = Field(
        description="Steps that must not be done meanwhile."
    )
    while_off: tuple[ShortText, ...] = Field((), description="Items of the off-list.")
    while_trouble: tuple[ShortText, ...] = Field(
        (), description="Kinds of trouble, as the phrasebook names them: dropped-part."
    )
    while_not_done: tuple[Identifier, ...] = Field(
        (), description="Steps that must be done first, where they apply."
    )


class Checklist(Strict):
    """A whole checklist file."""

    checklist: Identifier = Field(description="Short name of the checklist, as its file has it.")
    title: ShortText = Field(description="What the voice announces at the start.")
    version: Version = Field(description="Three numbers; raise them with every change: 1.0.2.")
    language: Language = Field("en", description="Language of its texts.")
    machines: Annotated[tuple[Machine, ...], Field(min_length=1)] = Field(
        description="The machines that it is for."
    )
    source: LongText = Field(description="Which document and date it follows.")
    standing: LongText = Field(
        description="How the machine must be held: asked at the start and after a break."
    )
    options: dict[OptionName, Option] = Field(
        default_factory=dict, description="Facts about the vehicle that decide which steps apply."
    )
    interlocks: tuple[Interlock, ...] = Field(
        (), description="Rules beyond the hazards: not while something is off or not done."
    )
    sections: Annotated[tuple[SectionOrInclude, ...], Field(min_length=1)] = Field(
        description="Its sections and the shared ones that it includes, in order."
    )


class SharedSection(Strict):
    """A file under checklists/shared/: one section used by several checklists."""

    shared: Identifier = Field(description="Short name of the section.")
    title: ShortText = Field(description="What the voice announces: Battery off.")
    language: Language = Field("en", description="Language of its texts.")
    source: LongText = Field(description="Which document and date it follows.")
    steps: Annotated[tuple[Step, ...], Field(min_length=1)] = Field(
        description="Its steps, in order."
    )
