"""What a checklist may say about a fastener, its torque and the tools for it."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from assistant.checklist.fields import AQuantity, Count, ShortText, Strict


class Fastener(Strict):
    """The fastener a step works on, as printed in the machine's manual."""

    name: ShortText = Field(description="What the shop calls it: upper clamp bolt.")
    thread: ShortText | None = Field(
        None, description="As ISO or ASME name it: M8 × 1.25, 3/8-16 UNC."
    )
    length: AQuantity | None = Field(None, description="Under the head.")
    head: ShortText | None = Field(
        None, description="hex, socket cap, button, flange, pan, banjo …"
    )
    drive: ShortText | None = Field(
        None, description="The driver that fits: 6 mm hex key, 10 mm socket, T27."
    )
    grade: ShortText | None = Field(None, description="Property class or grade: 8.8, SAE grade 5.")
    count: Count = Field(1, description="How many of them this step handles.")
    into: Literal["steel", "aluminum", "brass", "lead", "plastic", "soft liner"] | None = Field(
        None, description="What it screws into, where that bears less than steel."
    )
    special: ShortText | None = Field(
        None,
        description="What is not as the standards have it, and where that stands: then check "
        "compares neither driver nor torque with their tables.",
    )


class Wrench(Strict):
    """The torque wrench that a torque is meant for."""

    name: ShortText = Field(description="What the shop calls it: small torque wrench.")
    most: AQuantity = Field(description="End of its scale, in the unit it is marked in.")
    least: AQuantity | None = Field(
        None, description="First mark of its scale; a fifth of the scale if left out."
    )
    lever: AQuantity | None = Field(
        None, description="Middle of the grip to the drive square; needed with an adapter."
    )


class Adapter(Strict):
    """A crowfoot or extension that changes what the wrench must be set to."""

    name: ShortText = Field(description="What the shop calls it: 14 mm crowfoot.")
    offset: AQuantity = Field(description="Drive square to the middle of the fastener.")
    angle: AQuantity | None = Field(
        None,
        description="0° straight out (if left out), 90° square to the handle, 180° turned back.",
    )


class Torque(Strict):
    """A tightening torque. A value without its source is an error."""

    value: AQuantity = Field(description="The final torque.")
    stages: tuple[AQuantity, ...] = Field((), description="Earlier passes, rising.")
    source: ShortText = Field(description="Where the value stands: manual, page.")
    condition: Literal["dry", "oiled", "threadlocker", "anti-seize"] = Field(
        "dry", description="State of the thread."
    )
    pattern: ShortText | None = Field(None, description="Order: front first, crosswise, evenly.")
    trap: ShortText | None = Field(
        None, description="What goes wrong here: soft thread, never above this."
    )
    wrench: Wrench | None = Field(
        None, description="The torque wrench it is meant for; its range is checked."
    )
    adapter: Adapter | None = Field(None, description="A crowfoot or the like between the two.")
