"""Who works here: the roster from the shop's own file, or from the names on the command line."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Annotated, Final

from pydantic import BaseModel, ConfigDict, Field, SecretStr, model_validator

from assistant.checklist.fields import AQuantity
from assistant.errors import BadInput
from assistant.job.state import ShopWrench
from assistant.language.located import read_yaml, validate
from assistant.small_files import is_there, read_small
from assistant.trade.wrenches import TorqueWrench

SHOP_FILE: Final = "shop.yaml"
_ID = re.compile(r"[a-z][a-z0-9-]{0,31}")
_LARGEST = 64 * 1024
MOST_DAYS: Final = 36_525

PersonId = Annotated[str, Field(pattern=r"^[a-z][a-z0-9-]{0,31}$")]
_NAME: Final = r"^[^\W\d_][^\d_<>&;]{0,39}$"
DisplayName = Annotated[str, Field(pattern=_NAME)]


class WrenchOnShelf(BaseModel):
    """A torque wrench as the shop's file names it."""

    model_config = ConfigDict(
        frozen=True, extra="forbid", strict=True, arbitrary_types_allowed=True
    )

    name: DisplayName
    most: AQuantity
    least: AQuantity | None = None
    lever: AQuantity | None = None
    calibrated_until: Annotated[date, Field(strict=False)] | None = None

    @model_validator(mode="after")
    def _has_a_scale(self) -> WrenchOnShelf:
        self.for_job(date.min)  # says what no wrench is
        return self

    def for_job(self, today: date) -> ShopWrench:
        """The wrench on this day.

        Raises:
            ValueError: a scale that is no torque, or that ends before it begins.
        """
        until = self.calibrated_until
        return ShopWrench(
            TorqueWrench(self.name, self.most, self.least, self.lever),
            until.isoformat() if until is not None else "",
            past_calibration=until is not None and today > until,
        )


class Shop(BaseModel):
    """The shop's file: name, people (id -> display name), torque wrenches, address of the store.

    `clips` says whether replies are kept as sound, `clip_days` how many days after a job is sealed
    `gloveson retain` removes them, `notice` whom to ask about what is recorded.

    The address may hold a password, so it is a secret: it shows in no text made of the shop.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

    shop: Annotated[str, Field(min_length=1, max_length=80)] = ""
    roster: dict[PersonId, DisplayName] = Field(default_factory=dict)
    wrenches: Annotated[tuple[WrenchOnShelf, ...], Field(strict=False)] = ()
    clips: bool = True
    clip_days: Annotated[int, Field(ge=0, le=MOST_DAYS)] | None = None
    notice: Annotated[str, Field(max_length=200)] = ""
    store: Annotated[SecretStr, Field(max_length=1000)] | None = None


def load_shop(home: Path) -> Shop:
    """The shop's file in this folder; an empty shop when there is none.

    Raises:
        BadFile: it is there but not right; says what is wrong.
    """
    path = home / SHOP_FILE
    if not is_there(path):
        return Shop()
    text = read_small(path, _LARGEST, "a shop file")
    located = read_yaml(text, str(path))
    return Shop() if located.value is None else validate(Shop, located)


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
    """The shop's roster, with the people named on the command line.

    Raises:
        BadInput: a name that can't be called out.
    """
    roster = dict(shop.roster)
    for name in names:
        if name is None or (person := person_id(name)) in roster:
            continue
        if re.fullmatch(_NAME, name.strip()) is None:
            raise BadInput(f'"{name}" can\'t be called out: use letters, no digits')
        roster[person] = name.strip().title()
    return roster
