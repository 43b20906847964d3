"""`gloveson tray`: what must lie ready for a job, before the gloves go on."""

from __future__ import annotations

import argparse
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING, Any

from assistant.cli.output import ALL_RIGHT, add_options, answer, answer_json

if TYPE_CHECKING:
    from assistant.checklist.tray import Tray


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "tray",
        help="drivers, settings, parts and fluids to lay out",
        description="Lists every driver, torque setting, part and consumable that the chosen "
        "options need, each once, so that one trip fetches them; with the shop's own wrenches.",
    )
    command.add_argument("checklist", help="file or id")
    add_options(command)
    command.add_argument("--json", action="store_true", help="the tray as JSON on stdout")
    command.add_argument("--aloud", action="store_true", help="read it out as well")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Lay the tray out and print it."""
    from assistant import people, shelf  # noqa: PLC0415 - keeps `--help` fast
    from assistant.checklist.expand import expand, read_option  # noqa: PLC0415 - as above
    from assistant.checklist.tray import lay_out  # noqa: PLC0415 - as above
    from assistant.job.kit import with_shop_wrenches  # noqa: PLC0415 - as above
    from assistant.job.state import JobState  # noqa: PLC0415 - as above
    from assistant.job.tray_lines import tray_lines  # noqa: PLC0415 - as above
    from assistant.opening import setting_of, words_of  # noqa: PLC0415 - as above
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above

    loaded = shelf.load_checklist(shelf.find_checklist(given.checklist))
    plan = expand(loaded, dict(read_option(loaded, pair) for pair in given.option))
    shop = people.load_shop(jobs_home().parent)
    today = datetime.now().astimezone().date()  # calibration ends with the shop's own day
    setting = setting_of(plan, shop.roster, wrenches=[w.for_job(today) for w in shop.wrenches])
    tray = lay_out(plan)
    tray = replace(tray, torques=with_shop_wrenches(setting, JobState(), tray.torques))
    lines = tuple(tray_lines(plan, tray, wrench_needed=bool(setting.wrenches)))
    words = words_of(plan.language)
    if given.json:
        answer_json(as_json(tray))
    else:
        for said in lines:
            answer(words.shown(said))
    if given.aloud:
        from assistant.cli.aloud import read_out  # noqa: PLC0415 - loads the audio libraries

        read_out(words.spoken(said) for said in lines)
    return ALL_RIGHT


def as_json(tray: Tray) -> dict[str, Any]:
    """The tray as `--json` prints it; quantities as text with their unit."""
    return {
        "drivers": [
            {"name": t.name, "sizes": list(t.sizes), "steps": list(t.steps)} for t in tray.drivers
        ],
        "torques": [
            {
                "value": str(t.value),
                "set_to": str(t.set_to) if t.set_to is not None else None,
                "wrench": t.wrench,
                "adapter": t.adapter,
                "steps": list(t.steps),
            }
            for t in tray.torques
        ],
        "parts": [
            {
                "name": p.name,
                "number": p.number,
                "count": p.count,
                "single_use": p.single_use,
                "steps": list(p.steps),
            }
            for p in tray.parts
        ],
        "consumables": [{"name": c.name, "steps": list(c.steps)} for c in tray.consumables],
        "fluids": [{"name": f.name, "steps": list(f.steps)} for f in tray.fluids],
    }
