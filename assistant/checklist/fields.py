"""Kinds of values that a checklist's models are made of, and their strict base."""

from __future__ import annotations

import re
from typing import Annotated, Final

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, WithJsonSchema

from assistant.trade.quantity import UNITS, Quantity, unit_named


def _quantity(value: object) -> Quantity:
    if isinstance(value, Quantity):
        return value
    if not isinstance(value, str):
        msg = "write a number with its unit as text, like 22 N·m or 5/32 in"
        raise ValueError(msg)  # noqa: TRY004 - pydantic collects ValueError
    return Quantity.parse(value)


AQuantity = Annotated[
    Quantity,
    BeforeValidator(_quantity),
    WithJsonSchema(
        {
            "type": "string",
            "description": "A number and its unit: 22 N·m, 5/32 in, 1 1/2 turn.",
            "examples": ["22 N·m", "5/32 in"],
        },
    ),
]
_IDENTIFIER, _LONGEST = r"^[a-z][a-z0-9]*(-[a-z0-9]+)*$", 64
Identifier = Annotated[str, Field(pattern=_IDENTIFIER, max_length=_LONGEST)]
OptionName = Annotated[str, Field(pattern=r"^[a-z][a-z0-9]*(_[a-z0-9]+)*$", max_length=40)]
INCLUSION_NAME: Final = r"^[a-z][a-z0-9]*([ -][a-z0-9]+)*$"
_TRIMMED = r"^\S(.*\S)?$"  # a text of spaces only would be a silent step
ShortText = Annotated[str, Field(max_length=120, pattern=_TRIMMED)]
InclusionName = Annotated[str, Field(pattern=INCLUSION_NAME, max_length=40)]
LongText = Annotated[str, Field(max_length=500, pattern=_TRIMMED)]
UnitName = Annotated[
    str,
    AfterValidator(lambda name: unit_named(name).symbol),
    WithJsonSchema({"type": "string", "enum": [n for u in UNITS for n in (u.symbol, *u.aliases)]}),
]
Version = Annotated[str, Field(pattern=r"^\d+\.\d+\.\d+$", max_length=20)]
Language = Annotated[str, Field(pattern=r"^[a-z]{2,3}(-[A-Z]{2})?$")]
Count = Annotated[int, Field(ge=1, le=99)]


class Strict(BaseModel):
    """Base of all checklist models: frozen, no unknown keys, no silent conversion."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, arbitrary_types_allowed=True
    )


def is_identifier(name: str) -> bool:
    """Whether this can be the short name of a checklist, a section or a step."""
    return len(name) <= _LONGEST and re.fullmatch(_IDENTIFIER, name) is not None
