"""Who works here: the roster from the shop's own file, or from the names on the command line."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Final

import yaml
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from assistant.errors import BadFile, BadInput, Finding

SHOP_FILE: Final = "shop.yaml"
_ID = re.compile(r"[a-z][a-z0-9-]{0,31}")
_LARGEST = 64 * 1024

PersonId = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,31}$")]
DisplayName = Annotated[str, Field(pattern=r"^[^\W\d_][^\d_<>&;]{0,39}$")]


class Shop(BaseModel):
    """The shop's file: its name and its people, id -> display name."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    shop: Annotated[str, Field(min_length=1, max_length=80)] = ""
    roster: dict[PersonId, DisplayName] = Field(default_factory=dict)


def load_shop(home: Path) -> Shop:
    """The shop's file in this folder; an empty shop when there is none.

    Raises:
        BadFile: it is there but not right; says what is wrong.
    """
    path = home / SHOP_FILE
    if not path.is_file():
        return Shop()
    try:
        if path.stat().st_size > _LARGEST:
            raise BadInput(f"{path} is over {_LARGEST} bytes; it should hold a few names")
        return Shop.model_validate(yaml.safe_load(path.read_text(encoding="utf-8")) or {})
    except (OSError, UnicodeDecodeError, yaml.YAMLError, ValidationError) as problem:
        message = f"not a shop file with shop: and roster: {problem}"
        raise BadFile((Finding("error", "bad-shop", str(path), 0, message),)) from problem


def person_id(name: str) -> str:
    """The id for a name given on the command line.

    Raises:
        BadInput: no id can be made of it.
    """
    found = name.strip().lower().replace(" ", "-")
    if _ID.fullmatch(found) is None:
        raise BadInput(f'"{name}" can\'t be a name on the roster: use plain letters')
    return found


def roster_with(shop: Shop, *names: str | None) -> Mapping[str, str]:
    """The shop's roster, with the people named on the command line."""
    roster = dict(shop.roster)
    for name in names:
        if name is not None:
            roster.setdefault(person_id(name), name.strip().title())
    return roster
