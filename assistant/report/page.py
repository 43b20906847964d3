"""The report as one self-contained page: no script, nothing fetched, prints well."""

from __future__ import annotations

from collections.abc import Mapping
from importlib.resources import files
from itertools import groupby
from operator import itemgetter
from typing import Any, Final

import segno
from jinja2 import DictLoader, Environment, StrictUndefined

from assistant import packaged
from assistant.job.table import ALARMS
from assistant.record.seal import fingerprint
from assistant.report import figures
from assistant.trade.quantity import Quantity
from assistant.trade.units import rounded

SHEETS: Final = ("record", "customer")
"""The shop's whole report, and the customer's one page."""
_LONGEST: Final = 1_000
"""Signs of one text on a page: laying out megabytes would take minutes."""


def page(account: Mapping[str, Any], sheet: str = "record", shop: str = "") -> str:
    """The page as HTML.

    Everything that came from people, files or speech is escaped by the template engine.

    Args:
        account: as `accounts.account_of` makes it.
        sheet: one of SHEETS.
        shop: the shop's name, from its own file.
    """
    language = account.get("language", "en")
    names = _names(language)
    stops = packaged.stop_texts(language).stops
    template = environment(language).get_template(f"{sheet}.html")
    seal = account["seal"]
    return template.render(
        account=account,
        shop=shop,
        sheet=sheet,
        bars=figures.bars(account),
        marks=figures.marks(account),
        ticks=figures.ticks(account),
        gauges=[figures.gauge(reading) for reading in account["readings"]],
        advice=list(figures.advice(account)),
        fingerprint=fingerprint(seal) if seal else None,
        code=seal_code(seal),
        named=lambda kind, value: names.get(kind, {}).get(value, value),
        people=account["roster"],
        plan={planned["step"]: planned for planned in account["plan"]},
        read_back={stop.value: text.read_back for stop, text in stops.items()},
    )


def seal_code(seal: str | None) -> str | None:
    """A seal as QR code, an SVG element; None for a job that has none yet."""
    return segno.make(f"gloveson seal {seal}", error="m").svg_inline(scale=3) if seal else None


def environment(language: str) -> Environment:
    """The templates of a language; whatever is put into one is escaped."""
    folder = files("assistant") / "report" / "data" / language
    texts = {
        one.name.removesuffix(".j2"): one.read_text(encoding="utf-8")
        for one in folder.iterdir()
        if one.name.endswith(".j2")
    }
    made = Environment(
        loader=DictLoader(texts), autoescape=True, undefined=StrictUndefined, finalize=_cut
    )
    made.filters["clock"] = lambda wall: str(wall)[11:16]
    made.filters["day"] = lambda wall: str(wall)[:10]
    made.filters["short"] = lambda text: str(rounded(Quantity.parse(text), 2))
    made.filters["groupby_run"] = lambda rows, key: [
        (title, list(run)) for title, run in groupby(rows, key=itemgetter(key))
    ]
    return made


def _cut(value: object) -> object:
    """A text as far as anybody reads; the record has all of it. Our own markup stays whole."""
    if isinstance(value, str) and not hasattr(value, "__html__") and len(value) > _LONGEST:
        return f"{value[:_LONGEST]}…"
    return value


def _names(language: str) -> dict[str, dict[str, str]]:
    """Words for what the account names by its key."""
    book, stops = packaged.phrasebook(language), packaged.stop_texts(language)
    taught = {
        slot: {value: ways[0] for value, ways in book.slots[slot].items()}
        for slot in ("trouble", "reason")
    }
    taught["trouble"] |= {alarm: book.taught(alarm) for alarm in ALARMS}
    return {**taught, "stop": {stop.value: text.title for stop, text in stops.stops.items()}}
