"""The page that plays a spoken record: it works from a folder, and asks for its sound only."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Mapping
from importlib.resources import files
from itertools import groupby
from typing import Any

from assistant.record.seal import fingerprint
from assistant.report.page import environment, seal_code
from assistant.report.spoken import Spoken


def player_page(account: Mapping[str, Any], spoken: Spoken, shop: str = "") -> str:
    """The page as HTML, to lie beside the sound.

    Its policy admits the one script it comes with, by hash, and sound; nothing else runs and
    nothing else is fetched, whatever stands in the record.

    Args:
        account: as `accounts.account_of` makes it.
        spoken: as `make_spoken` made it.
        shop: the shop's name, from its own file.
    """
    language = str(account.get("language", "en"))
    script = (files("assistant") / "report" / "data" / "player.js").read_text(encoding="utf-8")
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    seal = account["seal"]
    sections = [
        (title, list(entries))
        for title, entries in groupby(spoken.placed, key=lambda one: one.told.section)
    ]
    template = environment(language).get_template("spoken.html")
    return template.render(
        account=account,
        shop=shop,
        sheet="spoken",
        sound=spoken.sound.name,
        seconds=spoken.seconds,
        sections=sections,
        silent=sum(one.told.absent == "not-kept" for one in spoken.placed),
        script=script,
        digest=digest,
        fingerprint=fingerprint(seal) if seal else None,
        code=seal_code(seal),
    )
