"""`gloveson say`: one step as the technician will hear it."""

from __future__ import annotations

import argparse
from datetime import datetime
from typing import TYPE_CHECKING, Any

from assistant.cli.output import ALL_RIGHT, add_options, answer

if TYPE_CHECKING:
    from assistant.checklist.loader import Loaded
    from assistant.checklist.plan import Plan, PlannedStep


def add_to(commands: Any) -> None:  # noqa: ANN401 - argparse keeps this type to itself
    """Add the command to the command line."""
    command = commands.add_parser(
        "say",
        help="hear a step as it will be said",
        description="Prints a step word by word as the voice gets it, and says it: figures, units "
        "and abbreviations spelled out, with the shop's own torque wrench.",
    )
    command.add_argument("checklist", help="file or id")
    command.add_argument("step", metavar="STEP", help="short name of the step: perch-bolts.left")
    add_options(command)
    command.add_argument("--text", action="store_true", help="print only")
    command.set_defaults(run=run)


def run(given: argparse.Namespace) -> int:
    """Print the step's words and say them."""
    from assistant import people, shelf  # noqa: PLC0415 - keeps `--help` fast
    from assistant.checklist.expand import expand, read_option  # noqa: PLC0415 - as above
    from assistant.job.present import present_step  # noqa: PLC0415 - as above
    from assistant.job.state import JobState  # noqa: PLC0415 - as above
    from assistant.opening import setting_of, words_of  # noqa: PLC0415 - as above
    from assistant.record.folder import jobs_home  # noqa: PLC0415 - as above

    loaded = shelf.load_checklist(shelf.find_checklist(given.checklist))
    plan = expand(loaded, dict(read_option(loaded, pair) for pair in given.option))
    planned = _find(loaded, plan, given.step)
    shop = people.load_shop(jobs_home().parent)
    today = datetime.now().astimezone().date()  # calibration ends with the shop's own day
    setting = setting_of(plan, shop.roster, wrenches=[w.for_job(today) for w in shop.wrenches])
    words = words_of(plan.language)
    spoken = [words.spoken(said) for said in present_step(setting, JobState(), planned)]
    for line in spoken:
        answer(line)
    if not given.text:
        from assistant.cli.aloud import read_out  # noqa: PLC0415 - loads the audio libraries

        read_out(spoken)
    return ALL_RIGHT


def _find(loaded: Loaded, plan: Plan, name: str) -> PlannedStep:
    """The step of this name.

    Raises:
        BadInput: there is none on this choice of options; the message names what there is.
    """
    from assistant.checklist.expand import candidates, options_text  # noqa: PLC0415 - as above
    from assistant.checklist.explain import did_you_mean  # noqa: PLC0415 - as above
    from assistant.checklist.scalars import shown  # noqa: PLC0415 - as above
    from assistant.errors import BadInput  # noqa: PLC0415 - as above

    by_id = {planned.id: planned for planned in plan.steps}
    if name in by_id:
        return by_id[name]
    repeats = [one for one, planned in by_id.items() if planned.step.step == name]
    if repeats:
        raise BadInput(f'"{name}" is done more than once; name one: {", ".join(repeats)}')
    if any(name in (c.planned.id, c.planned.step.step) for c in candidates(loaded)):
        chosen = options_text(dict(plan.options))
        raise BadInput(
            f'"{name}" is not done with {chosen}; choose others with --option NAME=VALUE'
        )
    said = f'{loaded.file} has no step "{shown(name)}"'
    raise BadInput(f"{said}; {did_you_mean(name, by_id)}")
